"""The desk's page: what the desk room knows and decides, served to a browser.

Takes questions and changes from a browser, on this computer or from named accounts, hands them
to the desk room and fills templates with the answers. Writes only settings, accounts and the
packages that are dropped on it; all else is written by the desk room.
"""
