"""Many models in one step of a migration."""

from django.db.migrations.operations.base import Operation


class Together(Operation):
    """Operations whose models are built once, after all of them.

    One by one, each new table has Django build every model that is related to it anew, which
    takes longer with each: two thirds of the time in which a database is made.
    """

    def __init__(self, operations):
        self.operations = operations

    def state_forwards(self, app_label, state):
        state.__dict__.pop("apps", None)
        for operation in self.operations:
            operation.state_forwards(app_label, state)

    def database_forwards(self, app_label, schema_editor, from_state, to_state):
        for operation in self.operations:
            operation.database_forwards(app_label, schema_editor, to_state, to_state)

    def database_backwards(self, app_label, schema_editor, from_state, to_state):
        for operation in reversed(self.operations):
            operation.database_backwards(app_label, schema_editor, from_state, to_state)

    def describe(self):
        return f"{len(self.operations)} operations together"
