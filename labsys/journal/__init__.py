"""Who did what, when and why: append only, hash-chained, written through the one door of acts.

Lives here: the act door, the entries, the chain and its verification, dated rows. Knows no person table and no topic:
an actor is a frozen value, a subject is a text such as ``gauge:12``.
"""
