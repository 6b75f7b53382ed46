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
    name, offers = parser.prog, _offers(parser)
    known = [at for at, _ in offers if at]
    if shell == "fish":
        return _fish(name, known, offers)
    arms = "\n".join(f'    "{at}") words="{" ".join(words)}" ;;' for at, words in offers)
    # zsh runs bash's own script, once told to; -i: it passes over folders of others unasked
    own = "autoload -Uz compinit bashcompinit && compinit -i && bashcompinit\n"
    first = own if shell == "zsh" else ""
    return f"""{first}_{name}() {{
  local at="" words="" word i
  for ((i = 1; i < COMP_CWORD; i++)); do
    word="${{COMP_WORDS[i]}}"
    case "$at $word" in
      {"|".join(f'"{at}"' for at in known)}) at="$at $word" ;;
    esac
  done
  case "$at" in
{arms}
  esac
  word="${{COMP_WORDS[COMP_CWORD]}}"
  COMPREPLY=()
  for i in $(compgen -W "$words" -- "$word"); do
    if [[ $word || $i != -* ]]; then COMPREPLY+=("$i"); fi
  done
}}
complete -o default -F _{name} {name}"""


def _offers(parser, at=""):
    """(commands typed so far, words that may follow them) of a parser and of all below it."""
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
    below = [pair for name, sub in commands.items() for pair in _offers(sub, f"{at} {name}")]
    return [(at, [*commands, *named]), *below]


def _fish(name, known, offers):
    arms = "\n".join(f"    case '{at}'\n      string join \\n -- {' '.join(words)}"
                     for at, words in offers)  # fmt: skip
    return f"""function __{name}_words
  set -l at ''
  for word in (commandline -opc)[2..-1]
    contains -- "$at $word" {" ".join(f"'{at}'" for at in known)}; and set at "$at $word"
  end
  switch "$at"
{arms}
  end
end
complete -c {name} -a '(__{name}_words)'
complete -c {name} -n '__{name}_words | string match -qv -- "-*"' -f"""
