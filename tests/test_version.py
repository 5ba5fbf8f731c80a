from coldroom.version import running_version

COMMIT = "9ef6a28d0c5f0e0d3c1b2a49586776859403f2e1"


def test_the_version_names_the_commit_however_git_keeps_it(tmp_path):
    bare = running_version(tmp_path)
    assert "(" not in bare
    git = tmp_path / ".git"
    (git / "refs/heads").mkdir(parents=True)
    for head, file, text in (
        (COMMIT, "unread", ""),
        ("ref: refs/heads/main", "packed-refs", f"# pack\n{COMMIT} refs/heads/main\n"),
        ("ref: refs/heads/main", "refs/heads/main", f"{COMMIT}\n"),
    ):
        (git / "HEAD").write_text(head)
        (git / file).write_text(text)
        assert running_version(tmp_path) == f"{bare} (9ef6a28)"


def test_what_git_keeps_otherwise_is_left_out(tmp_path):
    (tmp_path / ".git").mkdir()
    (tmp_path / ".git/HEAD").write_text("ref: refs/heads/main")
    assert "(" not in running_version(tmp_path)
