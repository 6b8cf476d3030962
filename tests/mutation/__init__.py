"""Mutation testing of the planning folders, by hand: `python -m tests.mutation --folder takeoff`; see DEVELOPERS.md."""
