"""From the sign to the first step: the job list, a new job, its scan, the tools."""
