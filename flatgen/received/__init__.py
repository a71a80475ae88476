"""Parts that somebody sent as STEP. The kernel's work on a stranger's file runs in a process of its own.

request   what is asked, and what is answered: plain data        reading   STEP file -> solids with names (kernel)
worker    the process that does it                               keeper    starts it, bounds it, replaces it
"""
