"""A job that is running: joins the rules to the record, the photo gate and the recorder.

The only part of the room that touches a job's folder and the clock.
"""
