"""What each shell itself offers for words typed so far."""

import os
import shutil
import subprocess

import pytest

import lakekit.cli.main as cli
from lakekit.cli.completion import completion_script

COMMANDS = {"new", "season", "front", "briefing", "day", "weather", "trips", "patterns", "lake",
            "tackle", "completion"}  # fmt: skip
TYPED = (
    ("lakekit ", COMMANDS),
    ("lakekit se", {"season"}),
    ("lakekit season --st", {"--start"}),
    ("lakekit season --out tackle --mo", {"--months"}),  # a folder named like a command
    ("lakekit season --out tackle si", set()),
    ('lakekit season "our tackle" --mo', {"--months"}),
    ("lakekit tackle si", {"sink"}),
    ("lakekit tackle ", {"line", "running", "sink", "spread", "cast", "chart"}),
    ("lakekit completion ", {"bash", "zsh", "fish"}),
    ("lakekit lake our-", {"our-lake.toml"}),
    ("lakekit lake ", {"our-lake.toml", "tackle"}),
)
# bash has no way to complete a line from outside: its function is called, and where that offers
# nothing the names of files, as `complete -o default` does
BASH = """
eval "COMP_WORDS=($2)"; [[ $2 == *' ' ]] && COMP_WORDS+=("")
COMP_CWORD=$((${#COMP_WORDS[@]} - 1))
source "$1"; _lakekit
printf '%s\\n' "${COMPREPLY[@]:-$(compgen -f -- "${COMP_WORDS[COMP_CWORD]}")}"
"""
# zsh completes in a terminal only; whatever it adds to its list is printed on the way
ZSH = """
zmodload zsh/zpty
zpty inner zsh -f -i
zpty -w inner "PROMPT=; unsetopt prompt_sp prompt_cr; source ${(q)1}"
zpty -w inner 'compadd() {
  typeset -a hits
  [[ ${@[1,(i)(-|--)]} == *-(O|A|D)\\ * ]] || builtin compadd -A hits "$@"
  (( $#hits )) && print -r -- "<"${^hits}">"
  builtin compadd "$@"
}
offer() { zle complete-word; print -r -- "<EN""D>"; exit }
zle -N offer; bindkey "^I" offer; print "REA""DY"'
zpty -r inner said '*READY*'
zpty -w -n inner "$2"$'\\t'
zpty -r inner said '*<END>*'
print -r -- "$said" | grep -o '<[^<>]*>' | grep -v '<END>' | tr -d '<>'
"""
FISH = "source $argv[1]; complete -C $argv[2]"


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    """One home for all lines, where zsh keeps what it read, with a club's folder in it."""
    home = tmp_path_factory.mktemp("home")
    (home / "club" / "tackle").mkdir(parents=True)
    (home / "club" / "our-lake.toml").touch()
    return home


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
@pytest.mark.parametrize(("typed", "offered"), TYPED)
def test_a_shell_offers_commands_options_and_files(shell, typed, offered, home):
    if shutil.which(shell) is None:
        pytest.skip(f"no {shell}")
    script = home / shell
    script.write_text(completion_script(cli.build_parser(), shell) + "\n")
    command = {
        "bash": ["bash", "--norc", "-c", BASH, "bash"],
        "zsh": ["zsh", "-f", "-c", ZSH, "zsh"],
        "fish": ["fish", "--no-config", "-c", FISH],
    }[shell]
    done = subprocess.run([*command, script, typed], cwd=home / "club", timeout=60,
                          env={**os.environ, "HOME": home}, check=True, text=True,
                          capture_output=True)  # fmt: skip
    found = {line.rstrip("/") for line in done.stdout.splitlines()} - {""}
    assert not done.stderr
    # before a dash is typed fish lists options too, below the rest
    dashed = typed.split(" ")[-1][:1] == "-"
    assert {word for word in found if dashed or word[:1] != "-"} == offered
