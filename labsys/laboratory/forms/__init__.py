"""What is typed about the laboratory: plain facts, agreements, bench hours and details."""
