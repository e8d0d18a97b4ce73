"""The desk's interface under odd requests, made from its own description."""

from __future__ import annotations

import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import seed as seeded
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from scanform.binder import open_binder
from scanform.desk.access import Role

EXAMPLES = 6  # a request; their number is what costs time here
SEED = 8_450_000
CHECKS = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]


def test_whatever_is_sent_the_desk_answers_as_it_says_and_the_record_stays_sound(desk):
    sessions = desk.app.state.sessions
    key = sessions.begin("AB", Role.COORDINATOR)
    sent_along = {
        "headers": {"X-Desk-Token": sessions.find(key).token},
        "cookies": {sessions.cookie: key},
        "allow_redirects": False,
    }
    schema = schemathesis.openapi.from_dict(desk.app.openapi())
    schema.config.update(base_url=desk.address)
    tried = []
    for found in schema.get_all_operations():
        operation = found.ok()
        if operation.path == "/sign-out":
            continue  # after it nothing else would be tried

        @seeded(SEED)
        @settings(
            max_examples=EXAMPLES,
            deadline=None,
            database=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(operation.as_strategy())
        def odd(case):
            case.call_and_validate(checks=CHECKS, **sent_along)

        odd()
        tried.append(operation.label)
    assert len(tried) > 10
    with open_binder(desk.folder) as binder:
        assert binder.verify().sound
