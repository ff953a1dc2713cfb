"""Signing in, with wrong tries counted; also in place, with what was typed going on to where it was going."""

from dataclasses import dataclass

from django.contrib.auth import authenticate, login
from django.http import HttpRequest

from saddlebench.web.base.pairing import remote_address
from saddlebench.web.base.tries import Allowance

EMAIL, PASSWORD = "sign-in-email", "sign-in-password"
KEPT_FIELDS_MOST = 500
_WRONG = "E-mail address and password do not belong together."
_WAIT = "Too many wrong tries. Wait a quarter of an hour, then try again."


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedSignIn:
    """What came of trying to sign in."""

    is_in: bool
    said: str = ""
    status: int = 200


def _allowances(request: HttpRequest, email: str) -> tuple[Allowance, ...]:
    address = remote_address(request)
    return (
        Allowance(key=f"sign-in:pair:{address}:{email}", most=5),
        Allowance(key=f"sign-in:from:{address}", most=30),
        Allowance(key=f"sign-in:to:{email}", most=60),
    )


def try_sign_in(request: HttpRequest, email: str, password: str) -> TriedSignIn:
    """Sign a person in who gives the right password; the count of wrong tries is looked at first."""
    address = email.strip().casefold()[:254]
    allowances = _allowances(request, address.encode("utf-8").hex())
    if any(one.is_spent() for one in allowances):
        return TriedSignIn(is_in=False, said=_WAIT, status=429)
    user = authenticate(request, username=address, password=password)
    if user is None:
        for one in allowances:
            one.count()
        return TriedSignIn(is_in=False, said=_WRONG, status=422)
    login(request, user)
    allowances[0].clear()
    return TriedSignIn(is_in=True)


def kept_fields(request: HttpRequest) -> list[tuple[str, str]]:
    """Return what was typed into the form that could not be saved yet, to be sent again."""
    ours = {EMAIL, PASSWORD, "csrfmiddlewaretoken"}
    pairs = [(name, value) for name, values in request.POST.lists() if name not in ours for value in values]
    return [(name, str(value)) for name, value in pairs[:KEPT_FIELDS_MOST]]
