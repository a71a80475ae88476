"""Parts that somebody sent as STEP. The kernel's work on a stranger's file runs in a process of its own.

request   what is asked, and what is answered: plain data    plain_text  a STEP file as text, before the kernel; names
reading   STEP file -> solids with names (kernel)            worker      the process that does the work
messages  what keeper and worker say to each other           codec       plain data as lines, read by their types only
process   one worker process: asked, heard, bounded          keeper      starts it, replaces it, says what went wrong
"""
