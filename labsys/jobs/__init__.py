"""What must happen without anybody pressing a button: owed work, runs of jobs, messages sent once.

Lives here: the ledgers and the claim rules. The database is the queue of record; the task runner is only the alarm
clock, so a lost message costs a minute and never a notice or a certificate. May not know what is owed.
"""
