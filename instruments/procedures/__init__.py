"""What to check and where: procedures, their revisions (drafted, approved, frozen), the points to take.

Lives here: contents, acts on revisions, the planner, what ships. May not live here: sessions and their readings.
"""
