"""What the addresses for programs share: errors, paging, chosen fields, permissions, the published schema.

Lives here: the frame. What is offered stands in each topic's api.py. May not know people or records.
"""
