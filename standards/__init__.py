"""Reference standards and their traceability. Stands on the site; knows nothing of gauges."""
