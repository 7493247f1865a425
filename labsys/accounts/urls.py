"""Addresses of everybody's own account and of people in the Lab. The site includes both lists."""

from __future__ import annotations

from django.urls import path

from labsys.accounts.views import authorisations, deciding, own, people

own_urlpatterns = [
    path("", own.account, name="account"),
    path("settings/", own.settings, name="account-settings"),
    path("tokens/", own.token_issue, name="token-issue"),
    path("tokens/<int:pk>/revoke/", own.token_revoke, name="token-revoke"),
    # Stand before the sign-in library's own: a password is never set by mail, and one place holds the address.
    path("password/reset/", own.forgotten, name="account_reset_password"),
    path("email/", own.own_mail, name="account_email"),
]

lab_urlpatterns = [
    path("people/", people.people, name="people"),
    path("people/register/", people.register, name="person-register"),
    path("people/roles/", people.roles, name="roles"),
    path("people/authorisations/", authorisations.authorisations, name="authorisations"),
    path("people/authorisations/<int:pk>/withdraw/", authorisations.withdraw, name="authorisation-withdraw"),
    path("people/<int:pk>/", people.person, name="person"),
    path("people/<int:pk>/correct/", deciding.change, name="person-change"),
    path("people/<int:pk>/roles/", deciding.roles, name="person-roles"),
    path("people/<int:pk>/authorise/", authorisations.grant, name="person-authorise"),
    path("people/<int:pk>/way-in/", deciding.way_in, name="person-way-in"),
    path("people/<int:pk>/second-factor/", deciding.second_factor, name="person-second-factor"),
    path("people/<int:pk>/sign-ins/", deciding.sign_ins, name="person-sign-ins"),
    path("people/<int:pk>/close/", deciding.close, name="person-close"),
    path("people/<int:pk>/open/", deciding.reopen, name="person-reopen"),
]
