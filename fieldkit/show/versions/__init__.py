"""versions"""
