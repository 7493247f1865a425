"""What pages are made of: the base page, elements, pictures of results, help, refusals shown to people.

Plain data comes in, markup goes out. No topic's models, no queries, no acts.
"""
