"""tasks"""
