"""The chain upward: certificates received and reviewed, who issued them, what they rely on, what breaks the chain."""
