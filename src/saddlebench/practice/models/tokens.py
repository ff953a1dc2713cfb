"""Tokens by which another program acts for a member, within a role."""

import uuid as uuids

from django.db import models

from saddlebench.practice.models.accounts import Practice, User


class Token(models.Model):
    """A token; only a digest of its secret is kept."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="tokens")
    label = models.CharField(max_length=200)
    role = models.CharField(max_length=16)
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)
    used_on = models.DateField(null=True)
    expires_on = models.DateField(null=True)
    """The last day it is good for; null: until it is withdrawn."""

    def __str__(self) -> str:
        return self.label
