"""Pages of the inventory: parse, call one act, answer. The list and the page of a gauge span topics: see the desk."""
