"""Pages of the bench: what is in hand, the page of a session, what was typed, the plan, the stages, lists."""
