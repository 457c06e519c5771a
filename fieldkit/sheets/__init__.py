"""The pages for the crew.

How it flows: a rig and its findings, as ``Material`` → each page's own function (``patch``, ``wiring``, …) makes a
``Page`` of tables, lists and drawings → ``collection`` cleans the texts and gives each page its revision mark →
``text``, ``html`` and ``table_files`` write the same pages out → ``folder`` puts the files where the user wants them.
"""
