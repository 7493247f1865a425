"""What thermometers logged: the room by time, as files and programs bring it, and what it was like in a span."""
