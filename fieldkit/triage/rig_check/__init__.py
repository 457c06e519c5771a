"""rig_check"""
