#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# make_pages.sh COMMAND FOLDER: writes man pages (FOLDER/man/man1) and shell completion (FOLDER/completions) from what the command's
# --help says, so that neither can differ from it.
set -eu
command=$1
folder=$2
mkdir -p "$folder/man/man1" "$folder/completions"
version=$("$command" --version | head -n 1 | cut -d ' ' -f 2)
verbs=$("$command" --help | sed -n '/^Verbs:/,$p' | sed -n 's/^  \([a-z-]*\)  .*/\1/p')

# A page of man(7) from a page of help: sections, options with their words, examples as they stand.
page() { # NAME TITLE
  awk -v name="$1" -v title="$2" -v version="$version" '
    function escaped(text) { gsub(/\\/, "\\e", text); gsub(/-/, "\\-", text); sub(/^[.\x27]/, "\\\\\\&&", text); return text }
    function end_verbatim() { if (verbatim) { print ".fi"; print ".RE"; verbatim = 0 } }
    function head(word) { end_verbatim(); print ".SH " word; section = word }
    NR == 1 {
      printf ".TH %s 1 \"\" \"holdfast %s\" \"User commands\"\n", toupper(title), version
      head("NAME"); printf "%s \\- %s\n", escaped(title), escaped($0); head("DESCRIPTION"); print escaped($0 "."); next
    }
    /^Usage: / { head("SYNOPSIS"); print ".B " escaped(substr($0, 8)); section = ""; next }
    /^(Positionals|Options|Output|Verbs):$/ { sub(/:$/, ""); head(toupper($0)); next }
    /^Examples/ { head("EXAMPLES"); print escaped($0); print ".RS 2"; print ".nf"; verbatim = 1; next }
    section == "EXAMPLES" && /^[^ ]/ { end_verbatim(); print ".PP"; print escaped($0); section = "AFTER"; next }
    section == "EXAMPLES" { if (!verbatim) { print ".RS 2"; print ".nf"; verbatim = 1 } print escaped($0); next }
    /^$/ { if (section == "" || section == "AFTER") print ".PP"; next }
    /^  [^ ]/ && section ~ /^(POSITIONALS|OPTIONS|OUTPUT|VERBS)$/ {
      words = substr($0, 3); text = ""
      if (length($0) > 32 && substr($0, 31, 2) ~ /^ ?  ?$/ && substr($0, 32, 1) == " ") { text = substr($0, 33); words = substr($0, 3, 30); sub(/ +$/, "", words) }
      print ".TP"; print ".B " escaped(words); if (text != "") print escaped(text); next
    }
    { sub(/^ +/, ""); print escaped($0) }
    END {
      end_verbatim()
      print ".SH EXIT STATUS"; print "0 an answer was found; 1 the question has no feasible answer, which the answer explains;"
      print "2 the input or the command line is wrong; 3 a defect of holdfast."
      print ".SH CAUTION"; print "A planning aid: flight rules, certified engineers and rehearsal decide."
    }' > "$folder/man/man1/$1.1"
}

"$command" --help | page holdfast holdfast
for verb in $verbs; do "$command" "$verb" --help | page "holdfast-$verb" "holdfast $verb"; done

options_of() { "$command" "$1" --help | sed -n 's/^  \(-h,\)\{0,1\}\(--[a-z-]*\).*/\2/p' | tr '\n' ' '; }

{
  echo '# bash completion for holdfast, made from its --help'
  echo '_holdfast() {'
  echo '  local word=${COMP_WORDS[COMP_CWORD]} verb=${COMP_WORDS[1]} options='
  echo '  if [ "$COMP_CWORD" -eq 1 ]; then'
  echo "    COMPREPLY=(\$(compgen -W \"$(echo $verbs) --help --version\" -- \"\$word\"))"
  echo '    return'
  echo '  fi'
  echo '  case "$verb" in'
  for verb in $verbs; do echo "    $verb) options=\"$(options_of "$verb")\" ;;"; done
  echo '  esac'
  echo '  case "$word" in'
  echo '    -*) COMPREPLY=($(compgen -W "$options" -- "$word")) ;;'
  echo '    *) COMPREPLY=($(compgen -f -- "$word")) ;;'
  echo '  esac'
  echo '}'
  echo 'complete -o filenames -F _holdfast holdfast'
} > "$folder/completions/holdfast"
