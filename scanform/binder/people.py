"""Who may come to the desk from other machines: people by name and initials, what they may do, and their passwords.

Names, initials and roles are in the journal; of passwords only an Argon2id hash (RFC 9106) is kept, and no journal has
it. Initials stand beside decisions for ever, so they are never given to somebody else, and nobody is deleted.
"""

from __future__ import annotations

import threading
from functools import lru_cache
from pathlib import Path
from typing import Any

from argon2 import PasswordHasher
from argon2.exceptions import Argon2Error, InvalidHashError
from sqlalchemy import Connection, Engine, delete, insert, select

from scanform.binder import journal
from scanform.binder.schema import password as password_table
from scanform.binder.schema import person
from scanform.binder.store import reading, writing
from scanform.binder.types import Person
from scanform.binder.values import checked_initials
from scanform.errors import UsageError

__all__ = ["ROLES", "let_in", "password_fits", "people", "person_with", "shut_out"]

ROLES = ("reader", "clerk", "coordinator")
# NIST SP 800-63B-4 (2025), from memory: at least 15 characters where nothing but the password is asked for, 64 and more
# have to be possible, and no rules about what they are made of.
LEAST_CHARACTERS = 15
MOST_CHARACTERS = 256
MOST_NAME = 80

_hasher = PasswordHasher()
_one_at_a_time = threading.Semaphore(2)  # each check takes 64 MB; a crowd at the door must not fill the memory


@lru_cache(maxsize=1)
def _nobodys() -> str:
    """A hash to check against where nobody has the initials. Made when it is needed: that takes a third of a second."""
    return _hasher.hash("nobody has this password")


def people(engine: Engine) -> list[Person]:
    """Everybody who was ever let in, by initials; ``role`` is None for those who no longer are."""
    with reading(engine) as connection:
        return [_person(row) for row in connection.execute(_with_hash().order_by(person.c.initials))]


def person_with(engine: Engine, initials: str) -> Person | None:
    """The person with those initials, also one who was shut out; None if nobody has them."""
    with reading(engine) as connection:
        row = connection.execute(_with_hash().where(person.c.initials == initials.strip().upper())).first()
        return _person(row) if row is not None else None


def let_in(engine: Engine, folder: Path, named: Person, password: str, by: str) -> None:
    """Let somebody in, or change role and password. ``by``: initials of who says so.

    UsageError if the initials are another person's already, the role is none, or the password is too short.
    """
    who, initials = checked_initials(by), checked_initials(named.initials)
    name = " ".join(named.name.split())
    if not name or len(name) > MOST_NAME or not name.isprintable():
        raise UsageError(f"'{named.name}' is no name; give first and last name, at most {MOST_NAME} characters.")
    if named.role not in ROLES:
        raise UsageError(f"'{named.role}' is no role; give one of {', '.join(ROLES)}.")
    if not LEAST_CHARACTERS <= len(password) <= MOST_CHARACTERS:
        raise UsageError(
            f"A password has {LEAST_CHARACTERS} to {MOST_CHARACTERS} characters; four words with spaces do."
        )
    hashed = _hasher.hash(password)
    with writing(engine, folder) as connection:
        before = connection.execute(select(person).where(person.c.initials == initials)).first()
        if before is not None and before.name != name:
            raise UsageError(f"{initials} is {before.name}, and stays so in the journal; give other initials.")
        _set(connection, {"initials": initials, "name": name, "role": named.role}, who)
        connection.execute(delete(password_table).where(password_table.c.initials == initials))
        connection.execute(insert(password_table), [{"initials": initials, "hash": hashed}])


def shut_out(engine: Engine, folder: Path, initials: str, by: str) -> None:
    """Let somebody in no longer; the name stays with the initials. UsageError if nobody in has them."""
    who, out = checked_initials(by), checked_initials(initials)
    with writing(engine, folder) as connection:
        before = connection.execute(select(person).where(person.c.initials == out)).first()
        if before is None or before.role is None:
            raise UsageError(f"Nobody with the initials {out} may come in.")
        _set(connection, {"initials": out, "name": before.name, "role": None}, who)
        connection.execute(delete(password_table).where(password_table.c.initials == out))


def password_fits(found: Person | None, password: str) -> bool:
    """Whether the password is the person's. Takes as long for somebody who does not exist."""
    stored = found.password_hash if found is not None and found.role is not None else None
    with _one_at_a_time:
        nobodys = _nobodys()  # also where somebody is found: the first one asked for takes no longer if it is nobody
        try:
            fits = _hasher.verify(stored or nobodys, password)
        except (Argon2Error, InvalidHashError):
            return False
    return fits and stored is not None


def _set(connection: Connection, row: dict[str, Any], by: str) -> None:
    connection.execute(delete(person).where(person.c.initials == row["initials"]))
    connection.execute(insert(person), [row])
    journal.append(connection, "person-set", row | {"by": by})


def _with_hash() -> Any:
    same = password_table.c.initials == person.c.initials
    return select(person, password_table.c.hash).join(password_table, same, isouter=True)


def _person(row: Any) -> Person:
    return Person(row.initials, row.name, row.role, row.hash)
