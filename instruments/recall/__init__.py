"""When each gauge must come back and what the shop floor may do with it until then.

Lives here: calibration events, due dates, standing, holds, restrictions, extensions, intervals in force, call-ins,
the label and the floor page. Readings and certificates are known only as text references.
"""
