"""Real Chromium at tablet size against the whole program."""
