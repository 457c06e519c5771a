"""signal"""
