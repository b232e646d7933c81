"""Entry of the workflow's jobs: ``python -m pipeline STAGE PATH ...``; people use braidwise."""

from __future__ import annotations

import sys

from pipeline.runtime.result_locks import places_named
from pipeline.text.errors import BraidwiseError
from pipeline.workflow.stages import STAGES


def main(arguments: list[str]) -> int:
    """Run one stage with what the Snakefile hands over. Returns the exit code."""
    stage, *given = arguments
    try:
        with places_named():
            STAGES[stage](given)
    except BraidwiseError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        # Ctrl-C reaches every process of a run; the command itself says what there is to say.
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
