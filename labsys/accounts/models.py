"""Tables of people: the user model, dated authorisations, signatures."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.db import models
from django.db.models.functions import Lower

from labsys.journal.door import Actor
from labsys.journal.rows import DatedRow
from labsys.laboratory.models import Department, Family

NAME_TAKEN = "Somebody has this user name already. None is given twice; choose another."


class Activity(models.TextChoices):
    """What a person can be authorised for, per family of gauges (17025, 6.2.6)."""

    MEASURE = "measure", "measure"
    REVIEW = "review", "review results"
    AUTHORISE = "authorise", "authorise certificates"
    APPROVE_PROCEDURES = "approve-procedures", "approve procedures"


class PersonManager(BaseUserManager["Person"]):
    """Makes people; the only place a password is set in clear."""

    def create_user(
        self, username: str, email: str = "", password: str | None = None, **fields: Any
    ) -> Person:
        """Make a person who signs in with ``username`` and ``password``."""
        person = self.model(username=username, email=self.normalize_email(email), **fields)
        person.set_password(password)
        person.save(using=self._db)
        return person


class Person(AbstractBaseUser, PermissionsMixin):
    """Somebody with an account. Ids are never reused, people are never deleted, only made inactive."""

    class Hand(models.TextChoices):
        RIGHT = "right", "right"
        LEFT = "left", "left"

    username = models.CharField(max_length=60, unique=True, error_messages={"unique": NAME_TAKEN})
    name = models.CharField(max_length=150)
    email = models.EmailField(blank=True)
    department = models.ForeignKey(Department, models.PROTECT, null=True, blank=True, related_name="people")
    hand = models.CharField(max_length=5, choices=Hand.choices, default=Hand.RIGHT)
    is_active = models.BooleanField(default=True)
    date_joined = models.DateTimeField(null=True)

    objects: ClassVar[PersonManager] = PersonManager()

    USERNAME_FIELD = "username"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        ordering = ("name",)
        verbose_name_plural = "people"
        constraints = (
            models.UniqueConstraint(
                Lower("username"),
                name="person_username_unique",
                violation_error_message=NAME_TAKEN,
            ),
        )

    def __str__(self) -> str:
        return self.name

    def get_full_name(self) -> str:
        """The name as printed."""
        return self.name

    def as_actor(self) -> Actor:
        """Freeze who this is now, with the role held, for the journal."""
        roles = sorted(group.name for group in self.groups.all())
        return Actor(f"person:{self.pk}", self.name, ", ".join(roles) or "none")

    def may(self, permission: str) -> bool:
        """Say whether one of the roles held carries the permission."""
        return self.is_active and self.has_perm(permission)


class Authorisation(DatedRow):
    """A person may do an activity with a family of gauges. The newest row wins; a withdrawal is a row too.

    ``lapses_on`` is a term of the authorisation itself (it runs for two years, say), not the end of the row.
    """

    person = models.ForeignKey(Person, models.PROTECT, related_name="authorisations")
    activity = models.CharField(max_length=20, choices=Activity.choices)
    family = models.ForeignKey(Family, models.PROTECT, related_name="authorisations")
    lapses_on = models.DateField(null=True, blank=True)
    supervised = models.BooleanField(default=False)
    withdrawn = models.BooleanField(default=False)
    evidence = models.CharField(max_length=300, blank=True)
    granted_by = models.CharField(max_length=150)

    class Meta:
        indexes = (
            models.Index(
                fields=("person", "activity", "family", "-valid_from"), name="authorisation_in_force"
            ),
        )

    def __str__(self) -> str:
        return f"{self.person} may {self.get_activity_display()} {self.family}"


class Signature(models.Model):
    """Somebody signed in again and put a meaning to the hash of a record (append-only)."""

    class Meaning(models.TextChoices):
        PERFORMED = "performed", "performed"
        REVIEWED = "reviewed", "reviewed"
        AUTHORISED = "authorised", "authorised"
        APPROVED = "approved", "approved"
        ACCEPTED = "accepted", "accepted"

    person = models.ForeignKey(Person, models.PROTECT, related_name="signatures")
    name = models.CharField(max_length=150)
    role = models.CharField(max_length=80)
    meaning = models.CharField(max_length=12, choices=Meaning.choices)
    subject = models.CharField(max_length=120, db_index=True)
    record_sha256 = models.CharField(max_length=64)
    signed_at = models.DateTimeField()
    signed_in_again_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.meaning} by {self.name}"


class ApiToken(models.Model):
    """A key with which a program reads in the name of a person; only its hash is kept, so it can't be shown again."""

    person = models.ForeignKey(Person, models.PROTECT, related_name="api_tokens")
    name = models.CharField(max_length=80, help_text="what uses it")
    token_sha256 = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    last_used_on = models.DateField(null=True)
    revoked_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-created_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("person", "name"),
                condition=models.Q(revoked_at=None),
                name="api_token_name_open_once",
                violation_error_message="You have a token of this name. Revoke it first, or choose another name.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.name} of {self.person}"
