"""connect"""
