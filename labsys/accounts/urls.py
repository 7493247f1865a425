"""Addresses of everybody's own account, of signing in, and of people in the Lab. The site includes the lists."""

from __future__ import annotations

from allauth.account import views as library
from django.urls import path, re_path

from labsys.accounts.views import authorisations, deciding, own, people

own_urlpatterns = [
    path("", own.account, name="account"),
    path("settings/", own.settings, name="account-settings"),
    path("tokens/", own.token_issue, name="token-issue"),
    path("tokens/<int:pk>/revoke/", own.token_revoke, name="token-revoke"),
    # Under the sign-in library's names: a password is never set by mail, and one place holds the mail address.
    path("password/reset/", own.forgotten, name="account_reset_password"),
    path("email/", own.own_mail, name="account_email"),
]

# Of the sign-in library only what is used here: what isn't reachable needn't be guarded.
sign_in_urlpatterns = [
    path("login/", library.login, name="account_login"),
    path("logout/", library.logout, name="account_logout"),
    path("inactive/", library.account_inactive, name="account_inactive"),
    path("signup/", library.signup, name="account_signup"),
    path("reauthenticate/", library.reauthenticate, name="account_reauthenticate"),
    path("password/change/", library.password_change, name="account_change_password"),
    path(
        "password/reset/key/done/",
        library.password_reset_from_key_done,
        name="account_reset_password_from_key_done",
    ),
    re_path(
        r"^password/reset/key/(?P<uidb36>[0-9A-Za-z]+)-(?P<key>.+)/$",
        library.password_reset_from_key,
        name="account_reset_password_from_key",
    ),
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
