"""Tests of recall: standing, due dates, holds, call-ins, labels, planning, the floor page."""
