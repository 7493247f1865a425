"""Pages that span topics: the list of gauges, the page of one gauge."""
