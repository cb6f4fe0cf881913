"""The papers: label, work tag and fill log; plain facts in, the same bytes out."""
