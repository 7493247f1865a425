"""What the laboratory is made of and has agreed: departments, places, families, tags, agreements, capacity, its zone.

Lives here: plain facts every room above stands on. May not know people, standards or gauges.
"""
