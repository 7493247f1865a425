"""What a measuring system does by itself, worked out from readings taken by a plan: repeatability and
reproducibility, nested designs, bias, linearity, capability.

Lives here: one module for each kind of study, what they share, what the numbers mean. May not live here: stability,
which is a chart of checks (charts), and uncertainty budgets.
"""
