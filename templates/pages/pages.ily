% Puts finished systems on pages. LilyPond breaks the lines; what is placed here are the systems it made of them, with
% their real heights. Lengths are millimetres where a name ends in -mm, else staff spaces.
%
% A section is a study (a title, then its systems) or a sheet of text (markups between forced page breaks). Its number
% is its place in section-names, each of which is a title, a heading, and a caution.

#(use-modules (srfi srfi-1) (srfi srfi-9) (ice-9 rdelim))

% Internals of LilyPond, not promised for later releases: without one of them it breaks pages itself, and says so.
#(define (internal module name)
   (let* ((interface (false-if-exception (resolve-interface module)))
          (variable (and interface (module-variable interface name))))
     (and variable (variable-ref variable))))
#(define own-make-page (internal '(lily page) 'make-page))
#(define own-set-property! (internal '(lily page) 'page-set-property!))
#(define own-printable-height (internal '(lily page) 'calc-printable-height))
#(define own-system-stencil (internal '(lily paper-system) 'paper-system-stencil))
#(define pages-are-own
   (and own-make-page own-set-property! own-printable-height own-system-stencil (defined? 'ly:paper-book-systems)))

% What a page costs: itself, what of it stays empty (squared), where it ends, and each system that a study which is cut
% there lacks to the least that should stand together.
#(define cost-of-page 1)
#(define cost-of-empty-page 4)
#(define cost-within-study 0.25)
#(define cost-of-missing-system 1.5)
#(define least-systems-in-row 3)
#(define cost-within-line 60)
#(define cost-after-title 1000)

#(define-record-type <item>
   (make-item system kind section up down staff)
   item?
   (system item-system)
   (kind item-kind)       ; 'title of a study, 'music, or 'text
   (section item-section)
   (up item-up)           ; from its origin to its top, and (below 0) to its foot
   (down item-down)
   (staff item-staff)     ; from its origin to its first staff
   )

#(define (music? item) (eq? 'music (item-kind item)))
#(define (title? item) (eq? 'title (item-kind item)))
#(define (text? item) (eq? 'text (item-kind item)))

#(define (permission system) (ly:prob-property system 'page-break-permission))

#(define (kind-of system)
   (cond ((not (eq? #t (ly:prob-property system 'is-title))) 'music)
         ((null? (ly:prob-property system 'is-book-title)) 'text)
         (else 'title)))

% A study begins with its title, or at once where its title is in another part; text where none was before, or after a
% page that had to end.
#(define (begins-section? kind before)
   (or (eq? kind 'title)
       (not before)
       (and (eq? kind 'text)
            (or (not (eq? 'text (kind-of before))) (eq? 'force (permission before))))))

#(define (items-of systems)
   (let loop ((left systems) (before #f) (section -1) (items '()))
     (if (null? left)
         (list->vector (reverse items))
         (let* ((system (car left))
                (kind (kind-of system))
                (section (if (begins-section? kind before) (1+ section) section))
                (extent (ly:stencil-extent (own-system-stencil system) Y))
                (extent (if (interval-empty? extent) '(0 . 0) extent))
                (staff (cdr (ly:prob-property system 'staff-refpoint-extent '(0 . 0)))))
           (loop (cdr left) system section
                 (cons (make-item system kind section (cdr extent) (car extent) staff) items))))))

% The least from the origin of one to that of the next, so that nothing in them touches.
#(define (clearance above below padding)
   (let ((low (ly:prob-property (item-system above) 'vertical-skylines))
         (high (ly:prob-property (item-system below) 'vertical-skylines)))
     (+ padding
        (if (and (music? above) (music? below) (pair? low) (pair? high))
            (ly:skyline-distance (car low) (cdr high) 0.5)
            (- (item-up below) (item-down above))))))

#(define (mm->spaces mm) (/ mm staff-space-mm))

% How far apart two staves of a study have to be to clear each other.
#(define (needed above below)
   (- (clearance above below (mm->spaces system-padding-mm)) (- (item-staff below) (item-staff above))))

% The staff distance of each section: the least that suits its widest pair, within limits.
#(define (staff-distances items)
   (let ((distances (make-hash-table)))
     (let loop ((place 1))
       (if (< place (vector-length items))
           (let* ((above (vector-ref items (1- place)))
                  (below (vector-ref items place))
                  (section (item-section below)))
             (if (and (music? above) (music? below))
                 (hash-set! distances section
                   (max (needed above below) (hash-ref distances section (mm->spaces least-staff-distance-mm)))))
             (loop (1+ place)))))
     distances))

% From the origin of each item to that of the one before it, where they share a page.
#(define (steps-of items)
   (let ((distances (staff-distances items))
         (most (mm->spaces most-staff-distance-mm))
         (steps (make-vector (vector-length items) 0)))
     (let loop ((place 1))
       (if (< place (vector-length items))
           (let ((above (vector-ref items (1- place))) (below (vector-ref items place)))
             (vector-set! steps place
               (cond ((and (music? above) (music? below))
                      (+ (max (min most (hash-ref distances (item-section below))) (needed above below))
                         (- (item-staff below) (item-staff above))))
                     ((text? above) (clearance above below (mm->spaces text-padding-mm)))
                     ((title? below) (clearance above below (mm->spaces above-title-mm)))
                     (else (clearance above below (mm->spaces below-title-mm)))))
             (loop (1+ place)))))
     steps))

% Systems of the section of the item at a place that stand from there on, or up to there (step -1), before a limit.
#(define (systems-in-row items place limit step)
   (let ((section (item-section (vector-ref items place))))
     (let loop ((at place) (found 0))
       (if (or (= at limit) (not (= section (item-section (vector-ref items at)))))
           found
           (loop (+ at step) (if (music? (vector-ref items at)) (1+ found) found))))))

% What it costs to end a page before a place.
#(define (cost-of-cut items place)
   (if (= place (vector-length items))
       0
       (let* ((last (vector-ref items (1- place)))
              (system (item-system last))
              (penalty (ly:prob-property system 'page-break-penalty)))
         (+ (cond ((title? last) cost-after-title)
                  ((null? (permission system)) cost-within-line)
                  ((number? penalty) penalty)
                  (else 0))
            (if (= (item-section last) (item-section (vector-ref items place))) cost-within-study 0)))))

% What a page costs that holds the items from one place up to another.
#(define (cost-of items start end empty)
   (let* ((count (vector-length items))
          (split? (lambda (place)
                    (and (< 0 place count)
                         (= (item-section (vector-ref items (1- place))) (item-section (vector-ref items place))))))
          (scrap (lambda (place limit step)
                   (if (music? (vector-ref items place))
                       (* cost-of-missing-system
                          (max 0 (- least-systems-in-row (systems-in-row items place limit step))))
                       0))))
     (+ cost-of-page
        (* cost-of-empty-page empty empty)
        (cost-of-cut items end)
        (if (split? start) (scrap start end 1) 0)
        (if (split? end) (scrap (1- end) (1- start) -1) 0))))

% The cheapest pages, each as the pair of the places where it begins and where the next one does.
#(define (best-pages items steps room-from)
   (let* ((count (vector-length items))
          (costs (make-vector (1+ count) +inf.0))
          (starts (make-vector (1+ count) 0)))
     (vector-set! costs 0 0)
     (do ((start 0 (1+ start))) ((= start count))
       (let ((room (room-from start)))
         (let loop ((end (1+ start)) (origin (item-up (vector-ref items start))))
           (let* ((last (vector-ref items (1- end)))
                  (filled (- origin (item-down last))))
             ; What is taller than a page gets one to itself.
             (if (or (<= filled room) (= end (1+ start)))
                 (let ((cost (+ (vector-ref costs start)
                                (cost-of items start end (max 0 (- 1 (/ filled room)))))))
                   (if (< cost (vector-ref costs end))
                       (begin (vector-set! costs end cost) (vector-set! starts end start)))
                   (if (and (< end count) (not (eq? 'force (permission (item-system last)))))
                       (loop (1+ end) (+ origin (vector-ref steps end))))))))))
     (let loop ((end count) (pages '()))
       (if (= end 0)
           pages
           (loop (vector-ref starts end) (cons (cons (vector-ref starts end) end) pages))))))

% How much is added to each staff distance of a page, and how full that makes it. A study that goes on from the page
% before is spread no more than there.
#(define (spread items steps page room before)
   (let* ((start (car page))
          (places (iota (- (cdr page) start 1) (1+ start)))
          (pairs (filter (lambda (place)
                           (and (music? (vector-ref items place)) (music? (vector-ref items (1- place)))))
                         places))
          (filled (+ (item-up (vector-ref items start))
                     (fold + 0 (map (lambda (place) (vector-ref steps place)) places))
                     (- (item-down (vector-ref items (1- (cdr page)))))))
          (most (if (music? (vector-ref items start)) before (mm->spaces most-spread-mm)))
          (more (if (null? pairs) most (max 0 (min most (/ (- room filled) (length pairs)))))))
     (values more pairs (/ filled room))))

% Where the items of a page are, from the top of what is printed on it down to their origins.
#(define (origins items steps page pairs more head-height)
   (let loop ((place (car page)) (at (+ head-height (item-up (vector-ref items (car page))))) (found '()))
     (let ((next (1+ place)) (found (cons at found)))
       (if (= next (cdr page))
           (reverse found)
           (let* ((step (vector-ref steps next))
                  (distance (+ step (item-staff (vector-ref items place)) (- (item-staff (vector-ref items next)))))
                  (room (max 0 (- (mm->spaces spread-staff-distance-mm) distance))))
             (loop next (+ at step (if (memv next pairs) (min more room) 0)) found))))))

#(define (rounded number) (/ (round (* 100 (exact->inexact number))) 100))

% Whether the music at a place begins a line of its study, and is not just where it was broken.
#(define (begins-line? items place)
   (and (music? (vector-ref items place))
        (or (= place 0)
            (let* ((before (vector-ref items (1- place))) (system (item-system before)))
              (or (title? before)
                  (and (eq? 'allow (permission system)) (null? (ly:prob-property system 'page-break-penalty))))))))

% The first and the last page of each section, once the pages are made.
#(define section-pages (make-hash-table))

#(define (note-page! section number)
   (let ((known (hash-ref section-pages section)))
     (hash-set! section-pages section (cons (if known (min number (car known)) number)
                                            (if known (max number (cdr known)) number)))))

% Those of the part after this one, which tells them by its file as soon as it has made its pages.
#(define note-pages-after
   (let ((noted (not book-goes-on)) (file (getenv "ETUDEGEN_PAGES_AFTER")))
     (lambda ()
       (if (and (not noted) file pages-are-own)
           (let wait ()
             (if (file-exists? file)
                 (call-with-input-file file
                   (lambda (port)
                     (let loop ((line (read-line port)))
                       (if (not (eof-object? line))
                           (let ((words (string-split line #\space)))
                             (if (string=? "on" (car words))
                                 (note-page! (+ (length section-names) (string->number (second words)))
                                             (string->number (third words))))
                             (loop (read-line port)))))))
                 (begin (usleep 2000) (wait)))))
       (set! noted #t))))

% What a plan tells of the pages of some sections, the first of them and the last; nothing where nobody knows.
#(define (pages-told first last)
   (if (>= last (length section-names)) (note-pages-after))
   (let ((begins (hash-ref section-pages first)) (ends (hash-ref section-pages last)))
     (cond ((not (and begins ends)) "")
           ((= (car begins) (cdr ends)) (format #f "p. ~a" (car begins)))
           (else (format #f "p. ~a–~a" (car begins) (cdr ends))))))

% What is told of a page: how full it is, which sections and lines begin on it, its staff distances in millimetres.
#(define (lines-about items page number filled pairs places)
   (append
     (list (list 'page number (rounded filled)))
     (append-map
       (lambda (place)
         (let ((section (item-section (vector-ref items place))))
           (append
             (if (or (= place 0) (not (= section (item-section (vector-ref items (1- place))))))
                 (list (list 'section section number))
                 '())
             (if (or (= place (car page)) (not (= section (item-section (vector-ref items (1- place))))))
                 (list (list 'on section number))
                 '())
             (if (begins-line? items place) (list (list 'line section number)) '()))))
       (iota (- (cdr page) (car page)) (car page)))
     (map (lambda (place)
            (let* ((at (- place (car page)))
                   (step (- (list-ref places at) (list-ref places (1- at))))
                   (staves (- (item-staff (vector-ref items (1- place))) (item-staff (vector-ref items place)))))
              (list 'distance number (rounded (* staff-space-mm (+ step staves))))))
          pairs)))

% One part of a book that several processes engrave side by side tells the next one its last page by a file.
#(define (pages-before)
   (let ((file (getenv "ETUDEGEN_PAGES_BEFORE")))
     (if file
         (let wait ()
           (if (file-exists? file)
               (call-with-input-file file (lambda (port) (read port) (read port)))
               (begin (usleep 2000) (wait))))
         0)))

% Lines of a word and numbers, the last page first; or that LilyPond made the pages.
#(define (tell-pages lines)
   (let ((file (getenv "ETUDEGEN_PAGES")))
     (if file
         (let ((unfinished (string-append file ".part")))
           (call-with-output-file unfinished
             (lambda (port) (for-each (lambda (line) (format port "~{~a~^ ~}\n" line)) lines)))
           (rename-file unfinished file)))))

#(if (not pages-are-own) (tell-pages '((stock))))

% The head of a page: that of all pages, and over a study that goes on its name.
#(define (head-of paper item)
   (interpret-markup paper (layout-extract-page-properties paper)
     (if (music? item)
         (let ((name (list-ref section-names (item-section item))))
           (make-column-markup
             (list (make-page-head-markup running-head (second name))
                   (make-continued-markup (first name) (third name)))))
         (make-page-head-markup running-head ""))))

#(define (heads-of paper items)
   (let ((made (make-hash-table)))
     (lambda (place)
       (let* ((item (vector-ref items place)) (key (and (music? item) (item-section item))))
         (or (hash-ref made key)
             (let ((head (head-of paper item))) (hash-set! made key head) head))))))

% The breaker of pages.
#(define (own-pages book)
   (let* ((paper (ly:paper-book-paper book))
          (items (items-of (ly:paper-book-systems book)))
          (steps (steps-of items))
          (head-from (heads-of paper items))
          (head-height (lambda (place)
                         (+ (mm->spaces below-head-mm) (interval-length (ly:stencil-extent (head-from place) Y)))))
          ; The room between the margins and over the foot; the page it is measured on has no head.
          (height (- (own-printable-height (own-make-page book 1 #f)) (mm->spaces above-foot-mm)))
          (room-from (lambda (place) (- height (head-height place))))
          (pages (best-pages items steps room-from))
          (first (+ (ly:output-def-lookup paper 'first-page-number 1) (pages-before))))
     (let loop ((left pages) (number first) (before (mm->spaces most-spread-mm)) (made '()) (told '()))
       (if (null? left)
           (begin
             (for-each
               (lambda (line) (if (eq? 'on (car line)) (note-page! (second line) (third line))))
               (concatenate told))
             (tell-pages (cons (list 'last (1- number)) (concatenate (reverse told))))
             (reverse made))
           (let* ((page (car left)) (start (car page)))
             (call-with-values (lambda () (spread items steps page (room-from start) before))
               (lambda (more pairs filled)
                 (let ((new (own-make-page book number (null? (cdr left))))
                       (places (origins items steps page pairs more (head-height start))))
                   (own-set-property! new 'head-stencil (head-from start))
                   (own-set-property! new 'lines
                     (map (lambda (place) (item-system (vector-ref items place)))
                          (iota (- (cdr page) start) start)))
                   (own-set-property! new 'configuration places)
                   (loop (cdr left) (1+ number) more (cons new made)
                     (cons (lines-about items page number filled pairs places) told))))))))))
