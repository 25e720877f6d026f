"""The tests of streams that need pyarrow, which Debian 12 does not have: run on the pip path."""

import pytest

pytest.importorskip("pyarrow")

from test_columns import (  # noqa: F401
    test_how_a_frame_holds_its_cells_changes_nothing,
    test_text_kept_by_arrow_is_read_like_any_other,
    test_texts_that_come_often_are_shared_and_right,
)
from test_resume import sheet, test_killed_at_random_moments  # noqa: F401
from test_screen_file import (  # noqa: F401
    pa,
    test_arrow_files_are_screened_like_frames,
    test_one_identifier_in_two_batches_is_told,
    test_record_batches_give_record_batches,
    test_text_of_arrow_columns_is_text_of_frames,
)
