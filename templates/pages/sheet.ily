% Style of a practice sheet: how it looks, and nothing of what it says. Its measures come from etudegen's PageStyle, as
% variables that are defined before: those that end in -mm are millimetres.

#(set-global-staff-size staff-points)
#(ly:set-option 'point-and-click #f)

% LilyPond is started with its collector of unused memory off, which saves a third of its time. Where a book has taken
% as much as this, in bytes, it is switched on again.
#(define memory-limit 1000000000)
#(define memory-is-free #t)
#(define (mind-memory grob)
   (if (and memory-is-free (> (assq-ref (gc-stats) 'heap-size) memory-limit))
       (begin (set! memory-is-free #f) (gc-enable))))

#(define-markup-command (fingering-digits layout props digits) (string?)
   (interpret-markup layout props
     (markup #:override '(font-name . "Nimbus Sans, sans-serif Bold") #:fontsize -1.5 digits)))

#(define-markup-command (partial-number layout props number) (string?)
   (interpret-markup layout props (markup #:italic #:fontsize -3 number)))

#(define-markup-command (tongue-syllable layout props syllable) (string?)
   (interpret-markup layout props (markup #:italic #:fontsize -0.5 syllable)))

#(define-markup-command (remark layout props words) (string?)
   (interpret-markup layout props (markup #:fontsize -3 words)))

#(define-markup-command (words layout props text) (string?)
   (interpret-markup layout props (markup #:italic #:fontsize -1 text)))

% A bowl: down with the lips and back.
#(define-markup-command (bend-sign layout props) ()
   (interpret-markup layout props
     (markup #:path 0.18 '((moveto -0.9 0.5) (curveto -0.5 -0.5 0.5 -0.5 0.9 0.5)))))

% A text in lines, each of them a piece and in the middle; a word that is wider than a line is cut.
#(define-markup-command (centred-lines layout props text) (string?)
   (let* ((width (chain-assoc-get 'line-width props))
          (print (lambda (piece) (interpret-markup layout props piece)))
          (fits? (lambda (piece) (<= (interval-length (ly:stencil-extent (print piece) X)) width)))
          (cut (lambda (word)
                 (let again ((word word))
                   (let ((half (quotient (string-length word) 2)))
                     (if (or (= half 0) (fits? word))
                         (list word)
                         (append (again (string-take word half)) (again (string-drop word half))))))))
          (lines (fold
                   (lambda (word lines)
                     (let ((longer (and (pair? lines) (string-append (car lines) " " word))))
                       (if (and longer (fits? longer)) (cons longer (cdr lines)) (cons word lines))))
                   '()
                   (append-map cut (string-split text #\space)))))
     (stack-lines DOWN 0 (chain-assoc-get 'baseline-skip props)
       (map (lambda (line)
              (ly:stencil-translate-axis (ly:stencil-aligned-to (print line) X CENTER) (/ width 2) X))
            (reverse lines)))))

% Without ligatures, so that a search in the file finds words with f and i in a row.
#(define (searchable text) (markup #:override '(font-features . ("-liga")) text))

% What stands over the music of a study, or over a sheet of text: each field that there is. Never empty, since a study
% is known by having a title, unless it goes on from another part of the book.
#(define-markup-command (section-title layout props) ()
   (let* ((field (lambda (name)
                   (let ((text (chain-assoc-get name props #f))) (and (string? text) (not (string-null? text)) text))))
          (heading (field 'header:heading))
          (timing (field 'header:timing))
          (title (field 'header:title))
          (subtitle (field 'header:subtitle))
          (instruction (field 'header:instruction))
          (caution (field 'header:caution))
          (rows (filter identity
                  (list
                    (and (or heading timing)
                         (markup #:fontsize -2 #:pad-to-box '(0 . 0) '(-1.2 . 0) #:fill-line ((or heading "") (or timing ""))))
                    (and title (markup #:override (cons 'baseline-skip 3.6) #:fontsize title-size #:bold #:centred-lines title))
                    (and subtitle (markup #:fontsize -0.5 #:centred-lines subtitle))
                    (and instruction (markup #:fontsize -0.5 #:wordwrap-string instruction))
                    (and caution (markup #:fontsize -1.5 #:italic #:wordwrap-string caution))))))
     (if (chain-assoc-get 'header:goes-on props #f)
         empty-stencil
         (interpret-markup layout props
           (searchable (make-column-markup (if (null? rows) (list (markup #:vspace 0.2)) (list-join rows (markup #:vspace 0.15)))))))))

#(define-markup-command (page-head layout props running heading) (string? string?)
   (interpret-markup layout props (searchable (markup #:fontsize -2 #:fill-line (running heading)))))

% Over a study that goes on from the page before.
#(define-markup-command (continued layout props title caution) (string? string?)
   (let ((lines (cons (string-append title ", continued") (if (string-null? caution) '() (list caution)))))
     (interpret-markup layout props
       (searchable (markup #:fontsize -1 #:italic (make-column-markup (map make-centred-lines-markup lines)))))))

% Pages of a book without music.

#(define-markup-command (text-title layout props heading title subtitle) (string? string? string?)
   (interpret-markup layout
     (cons (list (cons 'header:heading heading) (cons 'header:title title) (cons 'header:subtitle subtitle)) props)
     (markup #:column (#:section-title #:vspace 0.4))))

#(define-markup-command (cell layout props width-mm text) (number? markup?)
   (let* ((width (/ width-mm staff-space-mm))
          (inside (cons (list (cons 'line-width (- width (/ plan-gap-mm staff-space-mm)))) props))
          (stencil (interpret-markup layout inside (markup #:general-align Y UP text))))
     (ly:make-stencil (ly:stencil-expr stencil) (cons 0 width) (ly:stencil-extent stencil Y))))

% The pages of some sections, the first and the last of them: known only when all pages are made.
#(define-markup-command (pages-of layout props first last) (integer? integer?)
   (if (< first 0)
       empty-stencil
       (let ((room (interpret-markup layout props "p. 100–100")))
         (ly:make-stencil
           `(delay-stencil-evaluation
              ,(delay (ly:stencil-expr (interpret-markup layout props (pages-told first last)))))
           (ly:stencil-extent room X)
           (ly:stencil-extent room Y)))))

#(define (small text) (markup #:override '(baseline-skip . 2.3) #:fontsize -2 #:wordwrap-string text))

% What a block is and what it has today: on one line, where that has room for both.
#(define-markup-command (named-row layout props what today) (markup? string?)
   (let* ((print (lambda (piece) (interpret-markup layout props piece)))
          (in-a-line (print (markup #:concat (what #:hspace 1.2 #:fontsize -2 today)))))
     (cond ((string-null? today) (print (markup #:override '(baseline-skip . 2.8) what)))
           ((<= (interval-length (ly:stencil-extent in-a-line X)) (chain-assoc-get 'line-width props)) in-a-line)
           (else (ly:stencil-combine-at-edge
                   (print (markup #:override '(baseline-skip . 2.8) what)) Y DOWN (print (small today)) 0.35)))))

#(define (row-of-plan layout props style begins minutes what today why first last)
   (interpret-markup layout props
     (searchable (make-pad-markup-markup (chain-assoc-get 'plan-pad props 0.25) (style (make-concat-markup
       (map make-cell-markup plan-columns-mm
         (list begins minutes
           (make-named-row-markup what today)
           (small why)
           (markup #:fontsize -1 #:pages-of first last)))))))))

#(define-markup-command (plan-row layout props begins minutes what today why first last)
   (string? string? string? string? string? integer? integer?)
   (row-of-plan layout props identity begins minutes (markup #:bold #:wordwrap-string what) today why first last))

#(define-markup-command (rest-row layout props begins minutes what today why first last)
   (string? string? string? string? string? integer? integer?)
   (row-of-plan layout props make-italic-markup begins minutes (markup #:wordwrap-string what) today why first last))

#(define-markup-command (plan-remark layout props words) (string?)
   (interpret-markup layout props (searchable (markup #:pad-markup 0.2 #:fontsize -1 #:wordwrap-string words))))

#(define-markup-command (card-point layout props words) (string?)
   (interpret-markup layout props (searchable (markup #:pad-markup 0.4 #:wordwrap-string words))))

#(define-markup-command (ruled-line layout props) ()
   (interpret-markup layout props (markup #:pad-markup 2.2 #:override '(span-factor . 1) #:draw-hline)))

% A staff to write on: five lines with a treble clef on the second.
#(define-markup-command (empty-staff layout props) ()
   (interpret-markup layout props
     (markup #:pad-markup 2.4 #:override '(span-factor . 1) #:override '(thickness . 1)
       #:combine #:translate '(0.8 . 1) #:musicglyph "clefs.G"
       #:combine #:draw-hline
       #:combine #:translate '(0 . 1) #:draw-hline
       #:combine #:translate '(0 . 2) #:draw-hline
       #:combine #:translate '(0 . 3) #:draw-hline
       #:translate '(0 . 4) #:draw-hline)))

% A chord symbol: what it is built on and whether it is minor on the line, the rest of it raised.
#(define-markup-command (chord-symbol layout props root suffix bass) (string? string? string?)
   (interpret-markup layout props
     (markup #:concat (#:fontsize 1 root #:raise 0.7 #:fontsize -1 suffix #:fontsize 1 bass))))

% Two eighths are played as a long and a short one.
swing-tempo =
#(define-music-function (bpm) (index?)
   #{ \tempo "Swing" 4 = #bpm #})

% How often what a repeat sign ends is played.
times-played =
#(define-music-function (words) (string?)
   #{ \tweak direction #DOWN \textEndMark \markup \fontsize #-1 \italic #words #})

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
% Their numbers stay off the chord symbols.
endings-over-chords = {
  \override Score.VoltaBracketSpanner.staff-padding = #7
  \override Score.VoltaBracketSpanner.padding = #3
  \override Score.VoltaBracketSpanner.outside-staff-padding = #3.2
}
end-of-ending = \set Score.repeatCommands = #'((volta #f))

% Where a line or phrase ends, a page may. Inside a line it may not; LilyPond may begin a new system there, rather after
% two bars than after one or three. All of this are costs to what puts systems on pages (pages.ily).
page-break-costs =
#(define-music-function (cost) (number?)
   #{ \once \override Score.NonMusicalPaperColumn.page-break-penalty = #cost #})
inside-line = \noPageBreak
inside-pair = { \noPageBreak \once \override Score.NonMusicalPaperColumn.line-break-penalty = #5 }
% A line of many systems has to be broken between pages somewhere.
inside-long-line = \page-break-costs 2
inside-long-pair = { \page-break-costs 2 \once \override Score.NonMusicalPaperColumn.line-break-penalty = #5 }
% A heading with a single line under it looks lost at the foot of a page.
line-under-heading = { \break \page-break-costs 6 }
% All phrases of a key on one page, where they fit.
phrase-break = { \break \page-break-costs 12 }

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
  top-margin = #top-margin-mm
  bottom-margin = #bottom-margin-mm
  left-margin = #side-margin-mm
  right-margin = #side-margin-mm
  ragged-right = ##f
  ragged-last = ##f
  ragged-bottom = ##t
  ragged-last-bottom = ##t
  page-breaking = #(if pages-are-own own-pages ly:optimal-breaking)

  bookTitleMarkup = ##f
  scoreTitleMarkup = \markup \section-title
  oddHeaderMarkup = #(if pages-are-own #f (make-page-head-markup running-head ""))
  evenHeaderMarkup = \oddHeaderMarkup
  oddFooterMarkup = \markup \override #'(font-features . ("-liga")) \fontsize #-2 \column {
    \wordwrap-field #'header:footcaution
    \vspace #0.2
    \fill-line {
      \null
      \fromproperty #'header:foottiming
      % Where LilyPond makes the pages, a later part of a book does not know how many there are before it.
      #(if (and (not pages-are-own) (getenv "ETUDEGEN_PAGES_BEFORE"))
           (make-null-markup)
           (make-fromproperty-markup 'page:page-number-string))
    }
  }
  evenFooterMarkup = \oddFooterMarkup
}

\layout {
  % Room for the names of the lines; the layout's own indents win over those of the paper.
  indent = #(* indent-mm mm)
  short-indent = #(* indent-mm mm)
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
    \override VoltaBracket.font-size = #-1
    \override MetronomeMark.padding = #1.2
    % Above chord symbols, not squeezed in before them.
    \override MetronomeMark.outside-staff-horizontal-padding = #3
    \override SectionLabel.outside-staff-horizontal-padding = #20
    \override SpacingSpanner.common-shortest-duration = #(ly:make-moment 1/8)
  }
  \context {
    \Staff
    % Once a study, when its music is known and the work begins.
    \override StaffSymbol.before-line-breaking = #mind-memory
    % Digits next to the notes, dynamics and hairpins under them, brackets of an octave outside of both.
    \override DynamicLineSpanner.outside-staff-priority = #455
    \override OttavaBracket.outside-staff-priority = #460
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
    \override Slur.details.max-slope = #0.15
    \override Slur.details.steeper-slope-factor = #200
    \override Slur.height-limit = #1.2
    \override Slur.ratio = #0.15
    % They keep off accidentals.
    \override Slur.details.accidental-collision = #40
    % One beam is straight across a leap, never bent through the staff.
    \override Beam.auto-knee-gap = #100
  }
}
