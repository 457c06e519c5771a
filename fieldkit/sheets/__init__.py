"""The pages for the crew, each made of the rig and nothing else."""
