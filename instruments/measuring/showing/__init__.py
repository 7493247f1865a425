"""What the bench shows, worked out from reads: the step, the target of the next reading, pictures as plain data.

Lives here: no request, no template, no act. The one page of a session and every answer to what was typed are made of
this.
"""
