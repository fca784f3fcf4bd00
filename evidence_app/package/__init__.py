"""The sealed evidence package: building, sealing, checking, trust and report.

Reads a job's record and writes a BagIt bag in a ZIP file that strangers' tools
accept; checks such packages without trusting anything in them. Changes no job.
"""
