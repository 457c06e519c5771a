"""belief"""
