"""Reference standards and their traceability: what the laboratory measures with, and why it can be trusted."""
