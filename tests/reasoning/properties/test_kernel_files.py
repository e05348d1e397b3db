from tools.kernel_digests import imported_kernels, kernel_files, stale


def test_a_change_in_a_kernel_changes_the_files_that_draw_on_it():
    assert stale() == {}


def test_the_files_drawn_on_are_seen():
    by_name = {file.stem: imported_kernels(file) for file in kernel_files()}
    assert {"bounds", "workspace"} <= {file.stem for file in by_name["ratio_policy"]}
    assert {"forces", "drive"} <= {file.stem for file in by_name["integration"]}
