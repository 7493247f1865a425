"""What gauges exist, where they are, who keeps them: models and limits, service state, custody.

May not know when anything is due or how it is measured: that is recall's and measuring's.
"""
