"""Everything done to and with the gauges, from the register to the signed certificate and back into recall."""
