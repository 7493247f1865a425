"""The demo laboratory: an invented plant that machines pump housings and shafts, its gauges, standards and history.

Everything is recorded through the operations, with ``now=``, as the people named in people.py would have done it.
Nothing here is needed by a real laboratory.
"""
