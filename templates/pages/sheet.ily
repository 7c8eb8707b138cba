\version "2.24.0"
\language "english"

% Style of a practice sheet: how it looks, and nothing of what it says.
% Lengths are millimetres unless a name says otherwise.

#(set-global-staff-size 20.5)
#(ly:set-option 'point-and-click #f)

#(define-markup-command (fingering-digits layout props digits) (string?)
   (interpret-markup layout props
     (markup #:override '(font-name . "Nimbus Sans, sans-serif Bold") #:fontsize -1.5 digits)))

#(define-markup-command (partial-number layout props number) (string?)
   (interpret-markup layout props (markup #:italic #:fontsize -3 number)))

#(define-markup-command (tongue-syllable layout props syllable) (string?)
   (interpret-markup layout props (markup #:italic #:fontsize -2 syllable)))

#(define-markup-command (remark layout props words) (string?)
   (interpret-markup layout props (markup #:fontsize -3 words)))

#(define-markup-command (words layout props text) (string?)
   (interpret-markup layout props (markup #:italic #:fontsize -1 text)))

% A bowl: down with the lips and back.
#(define-markup-command (bend-sign layout props) ()
   (interpret-markup layout props
     (markup #:path 0.18 '((moveto -0.9 0.5) (curveto -0.5 -0.5 0.5 -0.5 0.9 0.5)))))

% A header field, with the fields that hold the rest of it where it takes more than a line.
#(define-markup-command (centred-field layout props name) (string?)
   (let* ((fields (map (lambda (numeral) (string->symbol (string-append "header:" name numeral)))
                       '("" "two" "three" "four")))
          (lines (filter markup? (map (lambda (field) (chain-assoc-get field props #f)) fields))))
     (interpret-markup layout props
       (make-column-markup (map (lambda (line) (make-fill-line-markup (list line))) lines)))))

% Pages of a book without music. Widths are staff spaces; 100 of them fill a line.

#(define-markup-command (cell layout props width text) (number? markup?)
   (let* ((inside (cons (list (cons 'line-width width)) props))
          (stencil (interpret-markup layout inside (markup #:general-align Y UP text))))
     (ly:make-stencil (ly:stencil-expr stencil) (cons 0 width) (ly:stencil-extent stencil Y))))

#(define-markup-command (plan-row layout props begins minutes what why) (string? string? string? string?)
   (interpret-markup layout props
     (markup #:override '(font-features . ("-liga")) #:pad-markup 0.5
       #:concat (#:cell 9 begins #:cell 10 minutes #:cell 34 (#:bold #:wordwrap-string what)
                 #:cell 45 #:fontsize -1 #:wordwrap-string why))))

#(define-markup-command (rest-row layout props begins minutes what why) (string? string? string? string?)
   (interpret-markup layout props
     (markup #:override '(font-features . ("-liga")) #:pad-markup 0.5
       #:concat (#:cell 9 begins #:cell 10 minutes #:cell 34 (#:italic #:wordwrap-string what)
                 #:cell 45 #:italic #:fontsize -1 #:wordwrap-string why))))

#(define-markup-command (plan-remark layout props words) (string?)
   (interpret-markup layout props
     (markup #:override '(font-features . ("-liga")) #:pad-markup 0.6 #:fontsize -1 #:wordwrap-string words)))

#(define-markup-command (card-point layout props words) (string?)
   (interpret-markup layout props
     (markup #:override '(font-features . ("-liga")) #:pad-markup 0.8 #:wordwrap-string words)))

#(define-markup-command (ruled-line layout props) ()
   (interpret-markup layout props (markup #:pad-markup 2.2 #:override '(span-factor . 1) #:draw-hline)))

% A chord symbol: what it is built on and whether it is minor on the line, the rest of it raised.
#(define-markup-command (chord-symbol layout props root suffix bass) (string? string? string?)
   (interpret-markup layout props
     (markup #:concat (#:fontsize 1 root #:raise 0.7 #:fontsize -1 suffix #:fontsize 1 bass))))

% Says which page a section is on, for the outline of the file.
#(define-markup-command (announced layout props) ()
   (let ((section (chain-assoc-get 'header:section props #f)))
     (if section
         (format (current-error-port) "etudegen-page ~a ~a\n" section (chain-assoc-get 'page:page-number props 0)))
     empty-stencil))

% Two eighths are played as a long and a short one.
swing-tempo =
#(define-music-function (bpm) (index?)
   #{ \tempo "Swing" 4 = #bpm #})

% A beat to improvise on.
slash-beat = {
  \once \override NoteHead.style = #'slash
  \once \omit Stem
  \once \omit Accidental
}

chord-row = \with {
  \override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #0.8
  \override TextScript.staff-padding = #0
  \override TextScript.self-alignment-X = #LEFT
  \override TextScript.parent-alignment-X = #LEFT
  \override TextScript.font-shape = #'upright
  % Symbols take room, so that two of them never run into each other.
  \override TextScript.extra-spacing-width = #'(0 . 0.7)
}

% A bar that is longer or shorter than the metre says, such as a pick-up, in whole notes.
bar-of =
#(define-music-function (length) (rational?)
   #{ \set Timing.measureLength = #(ly:make-moment length) #})

% The bracket over an ending; one that follows another ends that.
ending =
#(define-music-function (number) (string?)
   #{ \set Score.repeatCommands = #(list (list 'volta number)) #})
next-ending =
#(define-music-function (number) (string?)
   #{ \set Score.repeatCommands = #(list '(volta #f) (list 'volta number)) #})
end-of-ending = \set Score.repeatCommands = #'((volta #f))

% A new system for a new phrase; nobody turns a page there.
phrase-break = { \break \noPageBreak }

line-label =
#(define-music-function (label) (string?)
   #{
     \set Staff.instrumentName = \markup \bold \fontsize #1 #label
     \set Staff.shortInstrumentName = \markup \bold \fontsize #1 #label
   #})

% The label of a line that may run on to another page, on its further systems.
going-on =
#(define-music-function (label) (string?)
   #{ \set Staff.shortInstrumentName = \markup \fontsize #1 #(string-append "(" label ")") #})

no-label = { \set Staff.shortInstrumentName = \markup \null }

% Where digits or syllables stand under the notes, slurs and the numbers of tuplets keep away from them, above. What
% LilyPond does to keep numbers inside slurs fails on some.
digits-below = {
  \override TupletBracket.direction = #UP
  \override TupletNumber.avoid-slur = #'ignore
  \slurUp
}

% Once a line has shown how its beats are divided, the numbers are in the way.
tuplet-numbers-off = \omit TupletNumber
tuplet-numbers-on = \undo \omit TupletNumber

stage-heading =
#(define-music-function (heading) (string?)
   #{ \sectionLabel \markup \bold #heading #})

\paper {
  top-margin = 12
  bottom-margin = 12
  left-margin = 15
  right-margin = 15
  ragged-right = ##f
  ragged-last = ##f
  page-breaking = #ly:optimal-breaking
  max-systems-per-page = 11
  markup-system-spacing = #'((basic-distance . 10) (minimum-distance . 8) (padding . 2.5) (stretchability . 8))
  system-system-spacing = #'((basic-distance . 14) (minimum-distance . 12) (padding . 1.5) (stretchability . 18))
  top-system-spacing = #'((basic-distance . 6) (minimum-distance . 4) (padding . 2.5) (stretchability . 0))
  top-markup-spacing = #'((basic-distance . 4) (minimum-distance . 3) (padding . 2) (stretchability . 0))
  last-bottom-spacing = #'((basic-distance . 8) (minimum-distance . 6) (padding . 2) (stretchability . 8))

  % Without ligatures, so that a search in the file finds words with f and i in a row.
  bookTitleMarkup = \markup \override #'(font-features . ("-liga")) \column {
    \fontsize #5 \bold \centred-field "title"
    \vspace #0.5
    \fontsize #-0.5 \centred-field "subtitle"
    \vspace #0.5
    \fontsize #-0.5 \wordwrap-field #'header:instruction
    \vspace #0.4
  }
  scoreTitleMarkup = ##f
  oddHeaderMarkup = \markup \override #'(font-features . ("-liga")) \fontsize #-2 \fill-line {
    \fromproperty #'header:running
    \fromproperty #'header:block
  }
  evenHeaderMarkup = \oddHeaderMarkup
  oddFooterMarkup = \markup \override #'(font-features . ("-liga")) \fontsize #-2 \column {
    % On every page: a foot that changes its height would make LilyPond misjudge how much fits.
    \wordwrap-field #'header:caution
    \vspace #0.2
    \fill-line {
      \null
      \fromproperty #'header:timing
      \concat { \announced \fromproperty #'page:page-number-string }
    }
  }
  evenFooterMarkup = \oddFooterMarkup
}

\layout {
  % Room for the names of the lines; the layout's own indents win over those of the paper.
  indent = 9\mm
  short-indent = 9\mm
  \context {
    \Score
    \remove Bar_number_engraver
    autoBeaming = ##f
    skipBars = ##t
    % Old accidentals are not cancelled where a key changes: each line is an exercise of its own.
    printKeyCancellation = ##f
    ottavationMarkups = #ottavation-simple-ordinals
    \override SectionLabel.outside-staff-padding = #1.5
    \override MultiMeasureRest.expand-limit = #1
    \override SystemStartBar.collapse-height = #1
    \override MetronomeMark.padding = #1.2
    % Above chord symbols, not squeezed in before them.
    \override MetronomeMark.outside-staff-horizontal-padding = #3
    \override SectionLabel.outside-staff-horizontal-padding = #6
    \override SpacingSpanner.common-shortest-duration = #(ly:make-moment 1/8)
  }
  \context {
    \Staff
    \override InstrumentName.self-alignment-X = #RIGHT
    \override InstrumentName.padding = #1.2
  }
  \context {
    \Voice
    \override TextScript.staff-padding = #2
    \override TextScript.self-alignment-X = #CENTER
    \override TextScript.parent-alignment-X = #CENTER
    \override TupletBracket.bracket-visibility = ##t
    % Long slurs have room to lie flat over what they hold, instead of rising to a dome.
    \override Slur.details.region-size = #12
    % One beam is straight across a leap, never bent through the staff.
    \override Beam.auto-knee-gap = #100
  }
}
