"""Writes the declared roles and permissions to the database, where a laboratory can inspect them."""

from __future__ import annotations

from typing import Any

from labsys.journal.roles import Role, declared


def sync(**_: Any) -> None:
    """Write the declared permissions and roles to the database; run after every migration."""
    from django.contrib.auth.models import Group
    from django.contrib.auth.models import Permission as Row
    from django.contrib.contenttypes.models import ContentType

    from labsys.accounts.models import Person

    people = ContentType.objects.get_for_model(Person)
    rows = {
        item.codename: Row.objects.update_or_create(
            content_type=people, codename=item.codename, defaults={"name": item.name}
        )[0]
        for item in declared.values()
    }
    for role in Role:
        group, _created = Group.objects.get_or_create(name=role.value)
        group.permissions.add(*(rows[item.codename] for item in declared.values() if role in item.roles))
