"""Everything done to and with the gauges. Stands on the standards and the site; neither knows it."""
