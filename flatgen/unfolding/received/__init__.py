"""Parts that somebody sent as STEP. The kernel's work on a stranger's file runs in a process of its own.

request    what a person asks, the request to the worker, the messages between keeper and worker
codec      plain data as lines, read by their types only
keeper     starts a worker, replaces it, says what went wrong     process      one worker process: asked, heard, bounded
worker     the process that does the work                         step_solids  STEP file -> solids with names (kernel)
step_text  a STEP file as text, before the kernel; names          part         what a received part is to an answer
"""
