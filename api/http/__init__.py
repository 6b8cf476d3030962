"""What every HTTP answer has in common: problem details, shared responses, headers, lists in pages."""
