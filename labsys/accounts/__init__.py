"""People: who they are, their roles, what they are authorised to do and with which gauges, and their signatures.

Lives here: the person table, roles made of permissions, dated authorisations, signing in again. Sign-in itself is
the chosen library's. May not know what is signed: a signature holds a text subject and a hash.
"""
