"""Practices, the people who work in them, and what each may do."""

import uuid as uuids
from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models

from saddlebench.practice.enums import Role, Vocabulary


class UserManager(BaseUserManager["User"]):
    """Makes people who can sign in."""

    def create_user(self, email: str, label: str, password: str | None = None) -> "User":
        """Return a new person; without a password they cannot sign in yet."""
        user = self.model(email=email.strip().casefold(), label=label.strip())
        user.set_password(password)
        user.save(using=self._db)
        return user


class User(AbstractBaseUser):
    """A person who signs in with an e-mail address."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    email = models.EmailField(unique=True)
    label = models.CharField(max_length=200)
    is_active = models.BooleanField(default=True)

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["label"]

    objects = UserManager()

    def __str__(self) -> str:
        return self.label


class Practice(models.Model):
    """One fitter's business, or several fitters' together."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    label = models.CharField(max_length=200)
    zone = models.CharField(max_length=64, default="UTC")
    """Where it works, as an IANA time zone; a visit may lie in another."""
    vocabulary = models.CharField(max_length=16, default=Vocabulary.BRITISH.value)
    shots = models.JSONField(default=list)
    """The photos it takes at a visit, as rows of name and words; empty: the usual ones."""
    letterhead = models.JSONField(default=list)
    """Lines below its name on reports."""
    logo = models.TextField(default="", blank=True)
    """Beside them: PNG in base64; empty: none."""
    choosing = models.JSONField(default=list)
    """By what it chooses saddles: every version in order, each with what differs from the defaults."""
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.label


class Membership(models.Model):
    """What a person is to a practice; ended, never deleted, so that old entries keep their author."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="memberships")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=16)
    vocabulary = models.CharField(max_length=16, blank=True)
    """The member's own; empty: the practice's."""
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)

    class Meta:
        """A person is one thing at a time to a practice."""

        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["practice", "user"], condition=models.Q(ended_at=None), name="one_role_at_a_time"
            ),
            models.CheckConstraint(
                condition=models.Q(role__in=[role.value for role in Role]), name="role_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user_id} {self.role}"
