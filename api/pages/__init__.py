"""The web pages: server-rendered sheets for those who order, estimate, schedule and cut."""
