"""Forms in which people who are not programmers change what a procedure says: one section or one item at a time.

A form parses and puts its values where they belong; whether the content may stand is judged when it is read whole.
"""
