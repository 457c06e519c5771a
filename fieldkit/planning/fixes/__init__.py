"""fixes"""
