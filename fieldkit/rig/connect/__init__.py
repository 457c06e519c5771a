"""What is plugged where: lines, outputs, hosts, uses and presets; one model for solver, planners and triage."""
