"""Shell completion: a script made from the parser, so that it knows every command and option."""

import argparse


def completion_script(parser, shell):
    """The script that completes a parser's commands and options.

    Parameters
    ----------
    parser : argparse.ArgumentParser
    shell : str
        ``bash``, ``zsh`` or ``fish``.

    Returns
    -------
    str
        To be read by that shell; a word that is no command or option completes as a file's name.
    """
    name, words = parser.prog, _words(parser)
    if shell == "fish":
        return "\n".join(_fish(name, words))
    arms = "\n".join(f'    "{path}") words="{" ".join(offered)}" ;;' for path, offered in words)
    # zsh runs bash's own script, once told to
    own = "autoload -Uz compinit bashcompinit && compinit && bashcompinit\n"
    first = own if shell == "zsh" else ""
    return f"""{first}_{name}() {{
  local path="" words="" word i
  for ((i = 1; i < COMP_CWORD; i++)); do
    word="${{COMP_WORDS[i]}}"
    case "$path $word" in
      {"|".join(f'"{path}"' for path, _ in words if path)}) path="$path $word" ;;
    esac
  done
  case "$path" in
{arms}
  esac
  COMPREPLY=($(compgen -W "$words" -- "${{COMP_WORDS[COMP_CWORD]}}"))
}}
complete -o default -F _{name} {name}"""


def _words(parser, path=""):
    """(path of commands, words that may follow it) of a parser and of all below it."""
    commands = {
        name: sub
        for action in parser._actions
        if isinstance(action, argparse._SubParsersAction)
        for name, sub in action.choices.items()
    }
    named = [
        word
        for action in parser._actions
        if not isinstance(action, argparse._SubParsersAction)
        for word in action.option_strings or action.choices or ()
    ]
    below = [pair for name, sub in commands.items() for pair in _words(sub, f"{path} {name}")]
    return [(path, [*commands, *named]), *below]


def _fish(name, words):
    paths = [path for path, _ in words]
    for path, offered in words:
        seen = "".join(f"; and __fish_seen_subcommand_from {part}" for part in path.split())
        deeper = {p.split()[-1] for p in paths if p and p.split()[:-1] == path.split()}
        if deeper:
            seen += f"; and not __fish_seen_subcommand_from {' '.join(sorted(deeper))}"
        for word in offered:
            option = f"-l {word[2:]}" if word[:2] == "--" else f"-s {word[1:]}"
            what = option if word[0] == "-" else f"-a {word}"
            yield f"complete -c {name} -n 'true{seen}' {what}"
