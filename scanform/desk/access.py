"""Who is at the desk: sessions, the one-time link, roles, and the proof that a change was meant.

Sessions live in this process alone. A desk that is started again knows nobody, and people sign in again; nothing that
they have decided depends on it.
"""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Annotated

from fastapi import Depends, Request

__all__ = [
    "LONGEST_BACK",
    "TOKEN_FIELD",
    "TOKEN_HEADER",
    "Clerk",
    "Coordinator",
    "NotAllowed",
    "NotSignedIn",
    "Reader",
    "Role",
    "Session",
    "Sessions",
    "StaleForm",
]

TOKEN_HEADER = "X-Desk-Token"  # what a script sends with each change
TOKEN_FIELD = "desk_token"  # the same in a form

# A working day in front of the stack; an hour away from it (lunch included) means signing in again.
LONGEST_SESSION_S = 12 * 3600.0
LONGEST_PAUSE_S = 3600.0
LONGEST_BACK = 500  # characters of the address to which somebody comes back after signing in


class Role(IntEnum):
    """What somebody may do; each may do all that the ones below may."""

    READER = 1  # looks at sheets, lists and ink
    CLERK = 2  # settles doubts, corrects values, feeds files
    COORDINATOR = 3  # whatever only one person at a site should do


@dataclass
class Session:
    """One person at one browser. ``token`` goes with every change; ``desk_id`` names the session without opening it.

    ``proof``: the password hash that it was begun with, None if it was begun by the link. ``later``: references of
    doubts that this person has put off.
    """

    initials: str
    role: Role
    proof: str | None = None
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    desk_id: str = field(default_factory=lambda: secrets.token_hex(8))
    begun: float = field(default_factory=time.monotonic)
    seen: float = field(default_factory=time.monotonic)
    later: set[str] = field(default_factory=set)

    def may(self, role: Role) -> bool:
        """Whether this person may do what needs that role."""
        return self.role >= role


class Sessions:
    """The sessions of this process and its one-time link. Safe to use from several threads."""

    def __init__(self, still_allowed: Callable[[Session], bool], tls: bool) -> None:
        # Two desks on one machine share a host, and so its cookies. The prefix makes browsers insist on TLS.
        self.cookie = f"{'__Host-' if tls else ''}desk_{secrets.token_hex(4)}"
        self._still_allowed = still_allowed
        self._by_key: dict[str, Session] = {}
        self._links: set[str] = set()
        self._lock = threading.Lock()
        self.on_link_used: Callable[[], None] = lambda: None  # whoever runs the desk may want to give out another

    def begin(self, initials: str, role: Role, proof: str | None = None) -> str:
        """Begin a session; returns the cookie's value."""
        key = secrets.token_urlsafe(32)
        with self._lock:
            self._forget_old()
            self._by_key[key] = Session(initials, role, proof)
        return key

    def find(self, key: str | None) -> Session | None:
        """The session of a cookie; None if there is none, it is too old, or the person may no longer come in."""
        with self._lock:
            self._forget_old()
            session = self._by_key.get(key or "")
        if session is None or not self._still_allowed(session):
            return None
        session.seen = time.monotonic()
        return session

    def end(self, key: str | None) -> None:
        """End a session; harmless if there is none."""
        with self._lock:
            self._by_key.pop(key or "", None)

    def end_all(self) -> None:
        """End every session."""
        with self._lock:
            self._by_key.clear()

    def new_link(self) -> str:
        """A secret that opens the desk once."""
        link = secrets.token_urlsafe(24)
        with self._lock:
            self._links.add(link)
        return link

    def link_is_good(self, link: str) -> bool:
        """Whether a link would open the desk; it stays good."""
        with self._lock:
            return link in self._links

    def use_link(self, link: str) -> bool:
        """Use a link up; False if it was used before or never was one."""
        with self._lock:
            if link not in self._links:
                return False
            self._links.remove(link)
        self.on_link_used()
        return True

    def _forget_old(self) -> None:
        now = time.monotonic()
        old = [
            key
            for key, session in self._by_key.items()
            if now - session.begun > LONGEST_SESSION_S or now - session.seen > LONGEST_PAUSE_S
        ]
        for key in old:
            del self._by_key[key]


class NotSignedIn(Exception):
    """Nobody is signed in, or the session is over."""


class NotAllowed(Exception):
    """The person's role does not reach. The message names the role that would."""


class StaleForm(Exception):
    """A change came without the session's own token: an old page, or a page of somebody else."""


async def _signed_in(request: Request) -> Session:
    sessions: Sessions = request.app.state.sessions
    session = sessions.find(request.cookies.get(sessions.cookie))
    if session is None:
        raise NotSignedIn
    if request.method not in ("GET", "HEAD") and not await _token_fits(request, session):
        raise StaleForm
    request.state.session = session
    return session


async def _token_fits(request: Request, session: Session) -> bool:
    sent = request.headers.get(TOKEN_HEADER)
    if sent is None and request.headers.get("content-type", "").startswith("application/x-www-form-urlencoded"):
        sent = str((await request.form()).get(TOKEN_FIELD, ""))
    return hmac.compare_digest((sent or "").encode(), session.token.encode())


def _needs(role: Role) -> Callable[[Session], Awaitable[Session]]:
    async def allowed(session: Annotated[Session, Depends(_signed_in)]) -> Session:
        if not session.may(role):
            raise NotAllowed(role.name.lower())
        return session

    return allowed


# Parameters of a route: whoever lacks the role is refused before the route runs, and so is a change without the token.
Reader = Annotated[Session, Depends(_needs(Role.READER))]
Clerk = Annotated[Session, Depends(_needs(Role.CLERK))]
Coordinator = Annotated[Session, Depends(_needs(Role.COORDINATOR))]
