"""Other programs as the tests' callers: one token a person, no cookie."""

import json
import uuid as uuids
from dataclasses import dataclass
from typing import Any

from django.test import Client
from web_cast import Cast

from saddlebench.practice.enums import Role
from saddlebench.practice.services.tokens import make_token

V1 = "/api/v1/"


@dataclass(frozen=True)
class Caller:
    """A program with a token, or with none."""

    client: Client
    secret: str = ""

    def send(self, method: str, path: str, body: object = None, **headers: str) -> Any:
        """Send a request; bytes go as they are, everything else as JSON."""
        given = {"Authorization": f"Bearer {self.secret}"} if self.secret else {}
        raw = body if isinstance(body, bytes) else b"" if body is None else json.dumps(body).encode()
        return self.client.generic(
            method,
            V1 + path,
            data=raw,
            content_type="application/json",
            headers={**given, **headers},
        )

    def get(self, path: str, **headers: str) -> Any:
        return self.send("GET", path, **headers)

    def post(self, path: str, body: object = None) -> Any:
        return self.send("POST", path, body)

    def put(self, path: str, body: object = None) -> Any:
        return self.send("PUT", path, body)

    def patch(self, path: str, body: object = None) -> Any:
        return self.send("PATCH", path, body)


def caller(cast: Cast, who: str) -> Caller:
    """Return a program that acts for somebody, within their whole role; `nobody` has no token."""
    if who == "nobody":
        return Caller(Client())
    role = Role.OWNER if who == "other" else Role(who)
    return Caller(Client(), make_token(cast.actors[who], f"program of {who}", role).secret)


def key() -> str:
    return str(uuids.uuid4())
