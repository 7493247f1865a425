"""Questions to the arithmetic as plain objects of a documented form, and their answers with steps and sources.

Lives here: one module for each kind of question, the reader they share, the comparison with expected values. May not
live here: arithmetic of its own; a kind reads its fields, calls the core once and says what came out.
"""
