"""What people state about a joint beyond the pulls: opening, parts, locks, checks, hand-overs, corrections, follow-ups.

Entry... + Tightening... --machine--> state and debts of each fastener;  --gates--> what stands against going on;
--follow_up--> what is due when. Pure: no clock, no file, no database.
"""
