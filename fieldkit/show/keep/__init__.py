"""keep"""
