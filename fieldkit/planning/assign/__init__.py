"""assign"""
