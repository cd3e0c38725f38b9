-- An archive of two works as the first form of the tables held it (user_version 1): written by the Blotbook of
-- that time from two pictures made by code, so that it can be seen that newer ones still open it.
CREATE TABLE sources (
    source INTEGER PRIMARY KEY,
    obtained_from TEXT NOT NULL UNIQUE
);
CREATE TABLE arrangements (
    arrangement INTEGER PRIMARY KEY,
    slug TEXT NOT NULL UNIQUE,
    name TEXT NOT NULL,
    sentence TEXT NOT NULL,
    mean TEXT,                      -- picture: the mean lightness of its members
    spread TEXT,                    -- picture: how far they differ from it, black for not at all
    medoid TEXT REFERENCES works(work) ON DELETE SET NULL DEFERRABLE INITIALLY DEFERRED,
    members INTEGER NOT NULL
);
CREATE TABLE works (
    work TEXT PRIMARY KEY,
    title TEXT,
    artist TEXT,
    artist_dates TEXT,
    date TEXT,
    begin_year INTEGER,
    end_year INTEGER,
    century INTEGER,                -- of the middle of its years; 17 is 1601 to 1700, -1 is 100 to 1 before our era
    medium TEXT,
    culture TEXT,
    collection TEXT,
    accession_number TEXT,
    object_url TEXT,
    source INTEGER REFERENCES sources(source) DEFERRABLE INITIALLY DEFERRED,
    rights TEXT NOT NULL,           -- published address of the rights statement
    rights_basis TEXT,
    credit_line TEXT,               -- as the collection gives it
    credit TEXT NOT NULL,           -- the whole line to print under the picture
    file TEXT NOT NULL,             -- as the record named it
    sha256 TEXT NOT NULL,           -- of the file's bytes
    width INTEGER NOT NULL,         -- of the file, upright, px
    height INTEGER NOT NULL,
    trimmed TEXT NOT NULL,          -- JSON [x0, y0, x1, y1] in px of the file, upright
    trims TEXT NOT NULL,            -- JSON list of what was trimmed away and why
    profile TEXT NOT NULL,          -- the colour profile that was used
    display_width INTEGER NOT NULL, -- of the display copy, px
    display_height INTEGER NOT NULL,
    painting TEXT NOT NULL,
    thumb TEXT NOT NULL,
    squint TEXT NOT NULL,
    map2 TEXT NOT NULL,
    map3 TEXT NOT NULL,
    map5 TEXT NOT NULL,
    arrangement INTEGER REFERENCES arrangements(arrangement) ON DELETE SET NULL DEFERRABLE INITIALLY DEFERRED,
    degree REAL,                    -- how clearly it belongs to its arrangement, 0 to 1
    sentence TEXT NOT NULL,
    reading_version TEXT NOT NULL,
    row INTEGER UNIQUE              -- its row in signatures.npy, from 0
);
CREATE TABLE types (
    type TEXT PRIMARY KEY,
    place INTEGER NOT NULL,
    name TEXT NOT NULL,
    sentence TEXT NOT NULL,
    source TEXT NOT NULL
);
CREATE TABLE work_types (
    work TEXT NOT NULL REFERENCES works(work) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
    type TEXT NOT NULL REFERENCES types(type) DEFERRABLE INITIALLY DEFERRED,
    degree REAL NOT NULL,           -- 0 to 1
    PRIMARY KEY (work, type)
);
CREATE TABLE measure_meanings (
    measure TEXT PRIMARY KEY,
    place INTEGER NOT NULL,
    unit TEXT NOT NULL,
    says TEXT NOT NULL,
    source TEXT NOT NULL
);
CREATE TABLE signatures (
    work TEXT PRIMARY KEY REFERENCES works(work) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
    signature BLOB NOT NULL
);
CREATE TABLE set_aside (
    file TEXT NOT NULL,
    work TEXT NOT NULL,
    title TEXT,
    kind TEXT NOT NULL CHECK (kind IN ('rights', 'record', 'picture')),
    reason TEXT NOT NULL,
    rights TEXT,                    -- the statement that was refused
    PRIMARY KEY (file, work)
);
CREATE TABLE settings (
    name TEXT PRIMARY KEY,
    value TEXT NOT NULL
);
CREATE TABLE measures (
    work TEXT PRIMARY KEY REFERENCES works(work) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
    "light" REAL,
    "mid" REAL,
    "dark" REAL,
    "register" TEXT,
    "scale" TEXT,
    "median_lightness" REAL,
    "lightness_span" REAL,
    "values_present" INTEGER,
    "gap_light_mid" REAL,
    "gap_mid_dark" REAL,
    "unsure_light" REAL,
    "unsure_dark" REAL,
    "light_masses" INTEGER,
    "mid_masses" INTEGER,
    "dark_masses" INTEGER,
    "breadth_light" REAL,
    "breadth_mid" REAL,
    "breadth_dark" REAL,
    "principality_light" REAL,
    "principality_dark" REAL,
    "interchange" REAL,
    "light_x" REAL,
    "light_y" REAL,
    "dark_x" REAL,
    "dark_y" REAL,
    "steelyard" REAL,
    "dcm_dark" REAL,
    "dcm_light" REAL,
    "apb_dark" REAL,
    "apb_light" REAL,
    "symmetry" REAL,
    "contrast_step" REAL,
    "contrast_x" REAL,
    "contrast_y" REAL,
    "crispness" REAL,
    "gradation" REAL,
    "gradation_direction" REAL,
    "rows_explained" REAL,
    "columns_explained" REAL,
    "slant_explained" REAL,
    "slant_ends" REAL,
    "radial_explained" REAL,
    "radial_sign" REAL,
    "edge_light" REAL,
    "edge_dark" REAL,
    "light_left" REAL,
    "light_top" REAL,
    "light_right" REAL,
    "light_bottom" REAL,
    "dark_left" REAL,
    "dark_top" REAL,
    "dark_right" REAL,
    "dark_bottom" REAL
);
CREATE TABLE masses (
    -- The connected shapes of the three-value map: light, mid, dark, the largest of each first.
    -- Places and areas are shares of the picture, 0 to 1.
    work TEXT NOT NULL REFERENCES works(work) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
    mass INTEGER NOT NULL,
    "value" TEXT,
    "area" REAL,
    "x" REAL,
    "y" REAL,
    "x0" REAL,
    "y0" REAL,
    "x1" REAL,
    "y1" REAL,
    "touches" TEXT,
    "against_light" REAL,
    "against_mid" REAL,
    "against_dark" REAL,
    PRIMARY KEY (work, mass)
);
CREATE VIRTUAL TABLE works_fts USING fts5(
    title, artist, culture, medium, collection, sentence,
    content='works', tokenize='unicode61 remove_diacritics 2'
);
CREATE INDEX works_by_arrangement ON works(arrangement, degree);
CREATE INDEX works_by_artist ON works(artist);
CREATE INDEX works_by_century ON works(century);
CREATE INDEX works_by_source ON works(source);
CREATE INDEX work_types_by_type ON work_types(type, degree);
CREATE VIEW works_with_measures AS
SELECT works.work, works.thumb, works.title, works.artist, works.date, works.century,
    arrangements.name AS arrangement, works.degree, measures."light", measures."mid", measures."dark", measures."register", measures."scale", measures."median_lightness", measures."lightness_span", measures."values_present", measures."gap_light_mid", measures."gap_mid_dark", measures."unsure_light", measures."unsure_dark", measures."light_masses", measures."mid_masses", measures."dark_masses", measures."breadth_light", measures."breadth_mid", measures."breadth_dark", measures."principality_light", measures."principality_dark", measures."interchange", measures."light_x", measures."light_y", measures."dark_x", measures."dark_y", measures."steelyard", measures."dcm_dark", measures."dcm_light", measures."apb_dark", measures."apb_light", measures."symmetry", measures."contrast_step", measures."contrast_x", measures."contrast_y", measures."crispness", measures."gradation", measures."gradation_direction", measures."rows_explained", measures."columns_explained", measures."slant_explained", measures."slant_ends", measures."radial_explained", measures."radial_sign", measures."edge_light", measures."edge_dark", measures."light_left", measures."light_top", measures."light_right", measures."light_bottom", measures."dark_left", measures."dark_top", measures."dark_right", measures."dark_bottom"
FROM works JOIN measures ON measures.work = works.work
LEFT JOIN arrangements ON arrangements.arrangement = works.arrangement;
INSERT INTO "masses" VALUES ('a', 1, 'light', 2.71203703703703724592e-01, 5.2116052122453626616e-01, 5.49563749478396146308e-01, 2.41666666666666668517e-01, 2.44444444444444436426e-01, 0.8, 8.55555555555555513613e-01, '', 0.0, 0.0, 1.0);
INSERT INTO "masses" VALUES ('a', 2, 'dark', 7.28796296296296275407e-01, 0.492125629949604, 4.81556063750194107697e-01, 0.0, 0.0, 1.0, 1.0, 'left,top,right,bottom', 1.0, 0.0, 0.0);
INSERT INTO "masses" VALUES ('b', 1, 'light', 3.25648148148148131042e-01, 0.501091128802957, 1.62864499415537239412e-01, 0.0, 0.0, 1.0, 3.33333333333333314829e-01, 'left,top,right', 0.0, 1.0, 0.0);
INSERT INTO "masses" VALUES ('b', 2, 'mid', 3.60648148148148162128e-01, 4.98993367565254586359e-01, 5.05966338610754573501e-01, 0.0, 3.22222222222222243193e-01, 1.0, 6.88888888888888883954e-01, 'left,right', 0.5, 0.0, 0.5);
INSERT INTO "masses" VALUES ('b', 3, 'dark', 3.13703703703703706828e-01, 5.00024596615505689811e-01, 8.43112947658402167583e-01, 0.0, 6.77777777777777812318e-01, 1.0, 1.0, 'left,right,bottom', 0.0, 1.0, 0.0);
INSERT INTO "measure_meanings" VALUES ('light', 1, 'share 0..1', 'how much of the picture is light', 'Reynolds 1783, note on Du Fresnoy: shares of light, mezzotint and dark');
INSERT INTO "measure_meanings" VALUES ('mid', 2, 'share 0..1', 'how much of the picture is middle value', 'Reynolds 1783, note on Du Fresnoy: shares of light, mezzotint and dark');
INSERT INTO "measure_meanings" VALUES ('dark', 3, 'share 0..1', 'how much of the picture is dark', 'Reynolds 1783, note on Du Fresnoy: shares of light, mezzotint and dark');
INSERT INTO "measure_meanings" VALUES ('register', 4, 'word', 'upper, middle or lower, by the median L* (below 40, above 60)', 'Harrison 1909, Landscape Painting, ch. V');
INSERT INTO "measure_meanings" VALUES ('scale', 5, 'word', 'limited, moderate or extended, by the span of L* (below 40, above 65)', 'Harrison 1909, Landscape Painting, ch. V');
INSERT INTO "measure_meanings" VALUES ('median_lightness', 6, 'L* 0..100', 'median L* over the picture', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('lightness_span', 7, 'L* 0..100', 'from the 5th to the 95th hundredth of L*', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('values_present', 8, 'count 1..3', 'how many values the picture really has', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('gap_light_mid', 9, 'L*', 'step between the mean light and the mean middle', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('gap_mid_dark', 10, 'L*', 'step between the mean middle and the mean dark', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('unsure_light', 11, 'share 0..1', 'how much lies within 3 L* of where light begins', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('unsure_dark', 12, 'share 0..1', 'how much lies within 3 L* of where dark begins', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('light_masses', 13, 'count', 'light shapes of at least a hundredth of the picture', 'Ruskin 1857, The Elements of Drawing, letter III');
INSERT INTO "measure_meanings" VALUES ('mid_masses', 14, 'count', 'middle shapes of at least a hundredth of the picture', 'Ruskin 1857, The Elements of Drawing, letter III');
INSERT INTO "measure_meanings" VALUES ('dark_masses', 15, 'count', 'dark shapes of at least a hundredth of the picture', 'Ruskin 1857, The Elements of Drawing, letter III');
INSERT INTO "measure_meanings" VALUES ('breadth_light', 16, 'share 0..1', 'how much of the light is gathered in its largest mass', 'Ruskin 1857, The Elements of Drawing, letter III');
INSERT INTO "measure_meanings" VALUES ('breadth_mid', 17, 'share 0..1', 'how much of the middle is gathered in its largest mass', 'Ruskin 1857, The Elements of Drawing, letter III');
INSERT INTO "measure_meanings" VALUES ('breadth_dark', 18, 'share 0..1', 'how much of the dark is gathered in its largest mass', 'Ruskin 1857, The Elements of Drawing, letter III');
INSERT INTO "measure_meanings" VALUES ('principality_light', 19, 'ratio 1..20', 'largest light mass to the second (20: alone)', 'Ruskin 1857, The Elements of Drawing, letter III');
INSERT INTO "measure_meanings" VALUES ('principality_dark', 20, 'ratio 1..20', 'largest dark mass to the second (20: alone)', 'Ruskin 1857, The Elements of Drawing, letter III');
INSERT INTO "measure_meanings" VALUES ('interchange', 21, 'share 0..1', 'how evenly the main middle mass is seen against light here and dark there', 'Ruskin 1857, The Elements of Drawing, letter III');
INSERT INTO "measure_meanings" VALUES ('light_x', 22, 'share 0..1', 'centre of the lights from the left', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('light_y', 23, 'share 0..1', 'centre of the lights from the top', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('dark_x', 24, 'share 0..1', 'centre of the darks from the left', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('dark_y', 25, 'share 0..1', 'centre of the darks from the top', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('steelyard', 26, '-1..1', 'sideways weight of the darks: left negative, balanced 0', 'Poore 1903, Pictorial Composition, ch. III');
INSERT INTO "measure_meanings" VALUES ('dcm_dark', 27, '0..141.4', 'how far the weight of the darks lies from the centre', 'Hübner & Fillinger 2016, Frontiers in Psychology 7:335');
INSERT INTO "measure_meanings" VALUES ('dcm_light', 28, '0..141.4', 'how far the weight of the lights lies from the centre', 'Hübner & Fillinger 2016, Frontiers in Psychology 7:335');
INSERT INTO "measure_meanings" VALUES ('apb_dark', 29, '0..100', 'unevenness of the darks about eight axes (0: even)', 'Wilson & Chatterjee 2005, Empirical Studies of the Arts 23:165');
INSERT INTO "measure_meanings" VALUES ('apb_light', 30, '0..100', 'unevenness of the lights about eight axes (0: even)', 'Wilson & Chatterjee 2005, Empirical Studies of the Arts 23:165');
INSERT INTO "measure_meanings" VALUES ('symmetry', 31, '0..100', 'mirror symmetry of the darks', 'Hübner & Fillinger 2016, Frontiers in Psychology 7:335');
INSERT INTO "measure_meanings" VALUES ('contrast_step', 32, 'L*', 'the strongest step of light against dark', 'Ruskin 1857, The Elements of Drawing, letter III');
INSERT INTO "measure_meanings" VALUES ('contrast_x', 33, 'share 0..1', 'where the strongest step lies, from the left', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('contrast_y', 34, 'share 0..1', 'where the strongest step lies, from the top', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('crispness', 35, 'share 0..1', 'how much of the borders between values steps by more than 20 L*', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('gradation', 36, 'share 0..1', 'how much one even grade explains', 'Ross 1907, A Theory of Pure Design');
INSERT INTO "measure_meanings" VALUES ('gradation_direction', 37, 'degrees', 'where the grade grows light: 0 right, 90 up', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('rows_explained', 38, 'share 0..1', 'how much level bands explain', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('columns_explained', 39, 'share 0..1', 'how much upright bands explain', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('slant_explained', 40, 'share 0..1', 'how much bands along the best slant explain', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('slant_ends', 41, 'L*', 'from one end of that slant to the other', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('radial_explained', 42, 'share 0..1', 'how much rings about the centre explain', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('radial_sign', 43, '-1, 0, 1', '1 when the centre is the lighter, -1 when the darker', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('edge_light', 44, 'share 0..1', 'how much of the picture''s edge is light', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('edge_dark', 45, 'share 0..1', 'how much of the picture''s edge is dark', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('light_left', 46, 'share 0..1', 'light along the left edge', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('light_top', 47, 'share 0..1', 'light along the top edge', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('light_right', 48, 'share 0..1', 'light along the right edge', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('light_bottom', 49, 'share 0..1', 'light along the bottom edge', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('dark_left', 50, 'share 0..1', 'dark along the left edge', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('dark_top', 51, 'share 0..1', 'dark along the top edge', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('dark_right', 52, 'share 0..1', 'dark along the right edge', 'Blotbook');
INSERT INTO "measure_meanings" VALUES ('dark_bottom', 53, 'share 0..1', 'dark along the bottom edge', 'Blotbook');
INSERT INTO "measures" VALUES ('a', 2.71203703703703724592e-01, 0.0, 7.28796296296296275407e-01, 'lower', 'extended', 2.0510616302490234375e+01, 7.65535591125488110728e+01, 2, 2.923424530029296875e+01, 3.71755447387695312508e+01, 0.0025, 3.51851851851851847932e-03, 1, 0, 1, 1.0, 0.0, 1.0, 20.0, 20.0, 0.0, 5.2116052122453626616e-01, 5.49563749478396146308e-01, 4.92125629949604126434e-01, 4.81556063750194107697e-01, -1.57487401007917471318e-02, 4.01090756850603735728e+00, 1.07783726431243120913e+01, 1.6249523567526363621e+01, 4.3359508364629569142e+01, 6.42825328663942912026e+01, 71.17822265625, 7.7083333333333337034e-01, 6.94444444444444419772e-01, 1.0, 1.41586536415250208165e-02, 2.9230276481363023323e+02, 2.81323226663040770745e-01, 3.8448353431385018375e-01, 2.60471551861464478694e-01, 8.91801707426707, 8.1235110168305268985e-01, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0);
INSERT INTO "measures" VALUES ('b', 3.25648148148148131042e-01, 3.60648148148148162128e-01, 3.13703703703703706828e-01, 'middle', 'extended', 48.6438102722168, 7.51158530235290555765e+01, 3, 37.9670524597168, 2.95010509490966796883e+01, 3.51851851851851847932e-03, 5.64814814814814779991e-03, 1, 1, 1, 1.0, 1.0, 1.0, 20.0, 20.0, 1.0, 5.0109112880295691994e-01, 1.62864499415537239412e-01, 5.00024596615505800834e-01, 8.43112947658402167583e-01, 4.91932310116016680012e-05, 6.86225897080053073287e+01, 67.4274532564892, 3.97063164108618664727e+01, 3.85555871481376186702e+01, 1.56117318435754164345e+01, 4.2529621124267578125e+01, 4.04166666666666674068e-01, 3.38888888888888906159e-01, 8.98373983739837345119e-01, 8.88276463321390541416e-01, 8.99351591404928854024e+01, 9.73602402587966264668e-01, 1.40163746062239077255e-03, 0.696557261483429, -5.75930814462237918851e+01, 1.72369280928193766358e-03, -1.0, 4.23809523809523802651e-01, 4.19047619047619057663e-01, 3.22222222222222243193e-01, 1.0, 3.22222222222222243193e-01, 0.0, 3.11111111111111116045e-01, 0.0, 3.11111111111111116045e-01, 1.0);
INSERT INTO "set_aside" VALUES ('c.png', 'c', 'Not ours', 'rights', 'the work is in copyright', 'In Copyright');
INSERT INTO "set_aside" VALUES ('d.png', 'd', 'Lost', 'picture', 'There is no such file.', NULL);
INSERT INTO "settings" VALUES ('signatures_sha256', 'c3cb5381e8d8914dc1a7084c5f45bac2fbfa05a1f078bd250a662a062fc6f420');
INSERT INTO "signatures" VALUES ('a', X'35302821222F3A3D3B352F2A2A313738363535353331303235342F2926292B2C343029232530393C3A342E292A303637363434333332323436352E272326292B322F2A262830383A38332D28292F3436353332323233353738352D241F2226282F2E2B2A2C31363735302B27272C3133333231303235393B3C372B1E171A1F222B2C2D2F31333333302D2926262A2D2F3030302F33393D403F3829170F121618282A2E32343432302E2D2B29292A2B2C2E2F3031363C4043413928150C0D1012282A2D31333332302F2F3233312D2A2A2D3033363B3F414240392B190F0D0E0F2A2B2D2F3031313130343A3E3C37436470726049414140403E382E231712100F2C2C2D2D2D2F303031363E466AB0C9CBCFD7DED784453F3D3B37302A211814132E2E2D2D2C2C2D2E2F36418DDAD7D0CFD3DBE2E6E69E433B3835312D28221D1B30302F2E2B2928282B3996DEE0DAD3D2D6DDE3E7E7E2B44A353130302F2C29293131312F2B2724242883DADFDFD9D4D4D8DEE1E4E4E1DCAF352F2F32353535353332312F2B27242340CDDADDDCD8D4D5DADFE1E1E0DEDBD56D2E2F3338393A3A3432302E2B29272681D6DBDEDCD7D4D6DCE1E1E0DEDBD8D4AE2F3034383A3B3B34322F2C2B2C2C30B6D7DCDFDED8D4D7DEE3E3E0DCD8D5D3CD4731333638393934312D292A2F334CD1D9DEE2E1DAD6D9E0E4E3E0DBD7D4D3D06D303133353637312E292628303768D4DADFE3E3DDD9DADEE2E2E0DDDAD7D6D4862D2D2F3235362C292523262F376DD5DADEE2E3E0DDDCDBDCDEDFDFDFDFDDD98B29292C31363827252221242D3468D4DADDE1E3E3E0DDD8D7DADEE1E4E4E2DD8627262A31373925232221252C3254D2D8DBDFE2E3E2DED7D4D7DDE2E6E6E3DD7226262B32383A25252626292C2F37C3D5D8DDE1E3E2DED8D6D9DDE2E4E3E1D94E28292E35393B2A2B2C2E2F2F2D2B8ED0D6DBDFE0E0DEDCDCDDDFE0DEDBD8B52B292E34383A3B2E30333535322D283DC4D3D9DDDDDDDEE0E1E1E1DED8D2CC5A242A32393A3A3A3032353838342E2A277AD1D9DCDCDCDEE2E3E3E1DCD5CD9A21202932393939382E3034373835302D2A34A7D7DCDCDCDEE1E2E1DFDBD3BD431A1B252F373736362B2D3034363532302F3242A5DADCDCDDDFDFDEDCD7B9572B1A16202C3435343326282B2F333333333436393F78BAD5D9D9D9D4BD8446392E1A141D2A323331312123282D313131343738393A3A3D55747C74583B3537352C1A14202E3433302E1C20272D302F2E32373A39373637393C3E3D3A3633312F27191827363B36302D191E262D302E2C2F373A38353335393C3F3F3C37322D2922181C2E3D3F39312D171D262E302D2A2D363937333134393D40403D38312A251D171F3441433B312C151C262E302C292C353936323034393E42413E3A3128211A16203743463D312B68A18A');
INSERT INTO "signatures" VALUES ('b', X'E2DFD9D3D4DEE6E9E7E2DEDADBE0E4E5E4E3E3E2E1DFDFE0E3E2DEDAD7D9DBDCE2DED9D5D6DFE5E8E6E2DDDADADFE3E4E3E2E2E1E1E0E0E2E4E2DED8D4D7D9DBE0DEDAD7D9DFE4E6E5E1DCD9D9DEE1E3E2E1E1E0E0E1E2E4E5E3DDD4D1D3D6D8DEDDDBDADCE0E3E4E2DFDBD8D8DCE0E1E1E0DFDFE0E3E5E7E7E3DBD0CCCED1D3DBDBDDDEE0E1E1E1DFDDDAD7D7DADDDEDFDFDEDEE1E5E9EBEAE4D8CBC6C8CBCDD9DADDE0E2E1E0DFDEDCDBDADADADADBDDDEDFE0E3E7EBEDECE4D8C9C3C4C7C8D9DADDE0E1E1E0DFDEDEE0E1E0DCD9D8DADDE0E4E7EAECEDEBE5DACCC5C4C5C6DADADCDDDEDFDFDFDFE1E5E8E6DED7D5D7DDE3E9ECECEBEAE9E4DCD2CBC7C6C6D9DADADADBDDDEDEDEE2E7EBE9DFD5D1D4DCE4EBEEEBE8E7E6E2DDD5CECAC7C6D7D7D7D7D6D8DADADBDFE6EAE8DCD1CED0D8E2E9ECE8E5E3E2DFDAD4CFC9C5C4AAA9AAA8A29C9B9B9FA8B2BDB9A697959DA8B1BABCB3ADABACACACAEAAA29F9F838382807C76737275797E807E7875767A7E82848483807E7B7C7E82868888888281807E7B77737274777B7D7B7673757A7F8181807E7C7A797A7D818688888882817F7C7A78767575777B7D7C7672757C8081807D7A787777797D818587888882807D7B7A7A7A7977787C7F7D7773767E83837F7B77747476797D8083858686827F7B78797D7F7E7A7A7E82817975777F8484807A75727375797C7E818283847F7C7876787E82817C7B7F83837C78797E8282807C78767677797A7B7D8082837B787573757D82817D7B7E8283807D7B7A7C7D7E7F7E7D7C7B7978787B7F838577757271747B80807C7A7D818382807C7776797D818484817D797676797F848673727170737A7E7E7A787A7E8283817C7471757B828687837E787575797F84866F6E6E6E70767A797573757A7E80807B716D70787F8384817B747172777D81846364656666686A665E5C61697275746D6360636A71726E6A666364676C73787A3B3D4144423B33292120262E323131363D40403D33261E1A1B25343F4442403F3134373A39352F292323272D2F2D2D30363938342D27211B181D28343A3A39382F3034373835312C28282C30322F2E30343634312E2B2720181A242F373836362B2C3034363532302D2E3135353330313232312F2F302E271A16202B3435343326282B2F33333333333537383836333232302F2E3135352D1B141D2A323331302123282D313131343638393938363635353331303235342C1B15202E3433302E1C20272D302F2E3237393937353637393A39373432312F27191827363B36302D191E262D302E2C2F373A38353335383B3E3D3A36322D2922181C2E3D3F39312D171D262E302D2A2D363937333134393D40403D38312B251D171F3441433B312C151C262E302C292C353936323034393E42413E3A3128211A16203743463D312B55AC8A');
INSERT INTO "sources" VALUES (1, 'made by code');
INSERT INTO "types" VALUES ('light-on-dark', 1, 'light mass on dark ground', 'One gathered light, clear of the edges, on a ground that is mostly dark.', 'Poore 1903, Pictorial Composition: ''Light with dark complement''; Reynolds 1783 on Rembrandt');
INSERT INTO "types" VALUES ('dark-on-light', 2, 'dark mass on light ground', 'One gathered dark stands against a ground that is mostly light.', 'Poore 1903, Pictorial Composition: ''Dark with light complement''');
INSERT INTO "types" VALUES ('ringed-light', 3, 'ringed light', 'The light lies in the middle and sinks into dark all round.', 'Poore 1903, Pictorial Composition: ''Light with dark complement'' as a vignette');
INSERT INTO "types" VALUES ('ringed-dark', 4, 'ringed dark', 'The dark lies in the middle and light goes all round it.', 'Poore 1903, Pictorial Composition: ''Dark with light complement'' as a vignette');
INSERT INTO "types" VALUES ('bands', 5, 'level bands', 'Light, middle and dark lie in bands across the picture, as sky, water and land do.', 'Poore 1903, Pictorial Composition: composition based on the horizontal; Lee et al. 2020, PNAS 117:26580');
INSERT INTO "types" VALUES ('uprights', 6, 'upright divisions', 'The values stand side by side from top to bottom.', 'Poore 1903, Pictorial Composition: the vertical line; Lee et al. 2020, PNAS 117:26580');
INSERT INTO "types" VALUES ('slant', 7, 'slanting division', 'Dark fills one corner and light the opposite one; the border between them slants.', 'Poore 1903, Pictorial Composition: ''Light and dark''; Rowbotham 1852');
INSERT INTO "types" VALUES ('answered-weight', 8, 'weight at one side, answered', 'Most of the dark lies at one side; a small mass at the other answers it, as a small weight does far out on a steelyard.', 'Poore 1903, Pictorial Composition: balance of the steelyard; Ross 1907');
INSERT INTO "types" VALUES ('wings', 9, 'light between dark wings', 'Both sides are dark and the light opens between them.', 'Poore 1903, Pictorial Composition on Claude');
INSERT INTO "types" VALUES ('right-angle', 10, 'dark right angle', 'Dark runs up one side and along the bottom; the light lies in the angle.', 'Poore 1903, Pictorial Composition: ''the rectangle'', Claude''s second scheme');
INSERT INTO "types" VALUES ('scattered-lights', 11, 'scattered lights', 'Many small lights, none much greater than the rest.', 'Ruskin 1857, section 233; Hogarth 1753');
INSERT INTO "types" VALUES ('scattered-darks', 12, 'scattered darks', 'Many small darks, none much greater than the rest.', 'Ruskin 1857, section 233');
INSERT INTO "types" VALUES ('grade', 13, 'one grade', 'Tone passes evenly from dark at one end to light at the other, without hard borders.', 'Poore 1903, Pictorial Composition: ''Dark to light, gradation''; Ross 1907, section 182');
INSERT INTO "types" VALUES ('broad-middle', 14, 'broad middle with accents', 'Middle value over most of the picture; light and dark come in small quantity.', 'Poore 1903, Pictorial Composition: ''Black and white with grey complement''; Ruskin 1843');
INSERT INTO "types" VALUES ('two-tone', 15, 'light and dark with little between', 'Large lights meet large darks and little middle is left.', 'Dow 1899, Composition (two values); Speed 1913');
INSERT INTO "types" VALUES ('interchange', 16, 'interchange', 'The main middle mass is seen dark against light on one part of its border and light against dark on another.', 'Ruskin 1857, law of interchange');
INSERT INTO "work_types" VALUES ('a', 'answered-weight', 0.0);
INSERT INTO "work_types" VALUES ('a', 'bands', 0.0);
INSERT INTO "work_types" VALUES ('a', 'broad-middle', 0.0);
INSERT INTO "work_types" VALUES ('a', 'dark-on-light', 0.0);
INSERT INTO "work_types" VALUES ('a', 'grade', 0.0);
INSERT INTO "work_types" VALUES ('a', 'interchange', 0.0);
INSERT INTO "work_types" VALUES ('a', 'light-on-dark', 1.0);
INSERT INTO "work_types" VALUES ('a', 'right-angle', 0.0);
INSERT INTO "work_types" VALUES ('a', 'ringed-dark', 0.0);
INSERT INTO "work_types" VALUES ('a', 'ringed-light', 1.0);
INSERT INTO "work_types" VALUES ('a', 'scattered-darks', 0.0);
INSERT INTO "work_types" VALUES ('a', 'scattered-lights', 0.0);
INSERT INTO "work_types" VALUES ('a', 'slant', 0.0);
INSERT INTO "work_types" VALUES ('a', 'two-tone', 0.912037037037037);
INSERT INTO "work_types" VALUES ('a', 'uprights', 0.265801538254047);
INSERT INTO "work_types" VALUES ('a', 'wings', 0.0);
INSERT INTO "work_types" VALUES ('b', 'answered-weight', 0.0);
INSERT INTO "work_types" VALUES ('b', 'bands', 1.0);
INSERT INTO "work_types" VALUES ('b', 'broad-middle', 0.0);
INSERT INTO "work_types" VALUES ('b', 'dark-on-light', 0.0);
INSERT INTO "work_types" VALUES ('b', 'grade', 0.0);
INSERT INTO "work_types" VALUES ('b', 'interchange', 1.0);
INSERT INTO "work_types" VALUES ('b', 'light-on-dark', 0.0);
INSERT INTO "work_types" VALUES ('b', 'right-angle', 0.0);
INSERT INTO "work_types" VALUES ('b', 'ringed-dark', 0.0);
INSERT INTO "work_types" VALUES ('b', 'ringed-light', 0.0);
INSERT INTO "work_types" VALUES ('b', 'scattered-darks', 0.0);
INSERT INTO "work_types" VALUES ('b', 'scattered-lights', 0.0);
INSERT INTO "work_types" VALUES ('b', 'slant', 0.0);
INSERT INTO "work_types" VALUES ('b', 'two-tone', 0.0);
INSERT INTO "work_types" VALUES ('b', 'uprights', 0.0);
INSERT INTO "work_types" VALUES ('b', 'wings', 0.0);
INSERT INTO "works" VALUES ('a', 'Lamp on a table', 'Painter', NULL, NULL, 1650, NULL, 17, NULL, NULL, NULL, NULL, NULL, 1, 'https://creativecommons.org/publicdomain/zero/1.0/', 'stated as “CC0” in its record', NULL, 'Painter, Lamp on a table. CC0 1.0.', 'a.png', 'a3fb0c9253bd94fbfdd9582a530f20b97707a47b81daf78b01e12eb8d78368f3', 120, 90, '[0, 0, 120, 90]', '[]', 'sRGB, assumed: the file carries no profile', 120, 90, '34/3470966e5f6985427b310ebeba1056bf0ed4e1960888b4ddaaf113e69b6da3e0.webp', '34/3470966e5f6985427b310ebeba1056bf0ed4e1960888b4ddaaf113e69b6da3e0.webp', '67/67b73fa5d6ffc41c81aea6763f578e0c623c8cd14bc41ec8c41a3c8bc4add932.webp', '57/57e4284eac1bbc13fe277752744a9eb45a267a5d2b86dbe2fc672d4ff663a138.png', '54/54cff230a44923a078d1beeef79017f3e24c275eda4ca8c85ad29b70d41e5c7b.png', '98/98f221e4dacc3553bfd362b9245f1042965c70d1b623dc2f6060704a1fe52029.png', NULL, NULL, 'One light mass in the middle, ringed by dark; the dark joined and reaching every edge. Two values with hardly a middle: a quarter light, three quarters dark.', '1-1', 0);
INSERT INTO "works" VALUES ('b', 'Harbour', 'Painter', NULL, NULL, 1700, NULL, 17, NULL, NULL, NULL, NULL, NULL, 1, 'https://creativecommons.org/publicdomain/zero/1.0/', 'stated as “CC0” in its record', NULL, 'Painter, Harbour. CC0 1.0.', 'b.png', '7898f2c4143a9bed0f294704e135c27f638461f3d8290b80bc7fe42c00eebd11', 120, 90, '[0, 0, 120, 90]', '[]', 'sRGB, assumed: the file carries no profile', 120, 90, '10/1095d0ecb95c21e1e347d56c6b8dc3527e58fcdcf0833a9dcaeb8cbdc6624ae9.webp', '10/1095d0ecb95c21e1e347d56c6b8dc3527e58fcdcf0833a9dcaeb8cbdc6624ae9.webp', 'c3/c3996218fce0fca59bc3017a6242017fba53881f0c7b2991559c81d86d4c86aa.webp', '99/9922aa7ce62af92ba6f0fc7172491dd2dbc52370109688554f52186c9313e1cc.png', '39/391c7e31664bdac0e2e3aec30d2c37684c39ff694da8fc3abcc544af0e8b30cf.png', 'c5/c59a47b6f7e00b1e35cb590886d3eb7515a6922f705cd7efafb58df8ad6ba1fc.png', NULL, NULL, 'One light mass along the top, set in middle grey; the dark joined along the left, right and bottom. A third light, a third dark, the rest middle; middle register, extended scale.', '1-1', 1);
INSERT INTO works_fts(works_fts) VALUES ('rebuild');
PRAGMA user_version = 1;
